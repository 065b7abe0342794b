import type { ComponentChildren } from 'preact'
import { useState } from 'preact/hooks'

/** One line that stands for a list: its name, the answer in a few words, and the whole of it opened in place. */
export function FoldLine({
  id,
  name,
  words,
  children,
}: {
  id: string
  name: string
  words: ComponentChildren
  children: () => ComponentChildren
}) {
  const [open, setOpen] = useState(false)
  return (
    <section class="fold" id={id} aria-labelledby={`${id}-name`}>
      <div class="fold-line">
        <h2 id={`${id}-name`}>{name}</h2>
        <p>{words}</p>
        <button
          type="button"
          class="quiet"
          aria-expanded={open}
          aria-label={`${open ? 'Close' : 'Open'}: ${name}`}
          onClick={() => setOpen(!open)}
        >
          {open ? 'close' : 'open'}
        </button>
      </div>
      {open ? <div class="fold-body">{children()}</div> : null}
    </section>
  )
}

/** What belongs to a thing but is not its answer: shown and drawn on demand. */
export function Fold({ words, children }: { words: string; children: () => ComponentChildren }) {
  const [open, setOpen] = useState(false)
  return (
    <div class="fold-small">
      <button type="button" class="quiet" aria-expanded={open} onClick={() => setOpen(!open)}>
        <span aria-hidden="true">{open ? '▾' : '▸'}</span> {words}
      </button>
      {open ? children() : null}
    </div>
  )
}

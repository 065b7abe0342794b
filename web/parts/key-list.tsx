import { useEffect, useRef } from 'preact/hooks'

const KEYS: readonly (readonly [string, string])[] = [
  ['← →', 'move the cursor along a chart'],
  ['Shift ← →', 'a quarter of a screen earlier, later'],
  ['+ −', 'zoom in, out'],
  ['Home', 'the whole drive'],
  ['a, b', 'set mark A, mark B at the cursor'],
  ['Esc', 'take cursor and marks away'],
  ['Tab', 'from part to part; Enter opens and closes'],
  ['?', 'this list'],
]

const typing = (target: EventTarget | null) =>
  target instanceof HTMLElement && /^(INPUT|TEXTAREA|SELECT)$/.test(target.tagName)

/** The keys of the page: opened by `?` or its button, closed by Escape. */
export function KeyList() {
  const dialog = useRef<HTMLDialogElement>(null)
  useEffect(() => {
    const open = (event: KeyboardEvent) => {
      if (event.key !== '?' || typing(event.target) || event.ctrlKey || event.metaKey || event.altKey) return
      event.preventDefault()
      dialog.current?.showModal()
    }
    addEventListener('keydown', open)
    return () => removeEventListener('keydown', open)
  }, [])
  return (
    <>
      <button type="button" class="quiet keys-button" onClick={() => dialog.current?.showModal()}>
        Keys
      </button>
      <dialog ref={dialog} class="keys" aria-labelledby="keys-title">
        <h2 id="keys-title">Keys</h2>
        <p class="soft">Arrows, +, −, Home, a, b and Esc work on a chart that has the focus.</p>
        <dl>
          {KEYS.map(([key, does]) => (
            <div key={key}>
              <dt>{key}</dt>
              <dd>{does}</dd>
            </div>
          ))}
        </dl>
        <form method="dialog">
          <button type="submit">Close</button>
        </form>
      </dialog>
    </>
  )
}

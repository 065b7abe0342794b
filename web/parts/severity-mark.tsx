import type { Severity } from '../../shared/review.ts'
import { SEVERITY_WORDS } from '../../shared/wording.ts'

export type MarkKind = Severity | 'nothing-found' | 'not-assessed'

const WORDS: Readonly<Record<MarkKind, string>> = {
  stop: SEVERITY_WORDS.stop.word,
  attention: SEVERITY_WORDS.attention.word,
  note: SEVERITY_WORDS.note.word,
  'nothing-found': 'Nothing found',
  'not-assessed': 'Not assessed',
}

/** A shape and a word: nothing is told by colour alone. */
export function SeverityMark({ kind }: { kind: MarkKind }) {
  return (
    <span class={`mark mark-${kind}`}>
      <Shape kind={kind} />
      <span>{WORDS[kind]}</span>
    </span>
  )
}

export function Shape({ kind }: { kind: MarkKind }) {
  return (
    <svg width="20" height="20" viewBox="0 0 20 20" aria-hidden="true" class={`shape shape-${kind}`}>
      {kind === 'stop' ? (
        <>
          <path d="M6.2 1h7.6L19 6.2v7.6L13.8 19H6.2L1 13.8V6.2z" fill="currentColor" />
          <rect x="5" y="8.5" width="10" height="3" class="hole" />
        </>
      ) : kind === 'attention' ? (
        <>
          <path d="M10 1.2 19.4 18.5H.6z" fill="currentColor" />
          <path d="M10 7v5.4M10 14.2v2" stroke-width="2.2" class="hole-line" />
        </>
      ) : kind === 'note' ? (
        <>
          <rect
            x="2"
            y="2"
            width="16"
            height="16"
            rx="3"
            fill="none"
            stroke="currentColor"
            stroke-width="2.2"
          />
          <path d="M5.5 7.5h9M5.5 12h6" stroke="currentColor" stroke-width="2" />
        </>
      ) : kind === 'nothing-found' ? (
        <circle cx="10" cy="10" r="7.5" fill="none" stroke="currentColor" stroke-width="2.4" />
      ) : (
        <circle
          cx="10"
          cy="10"
          r="7.5"
          fill="none"
          stroke="currentColor"
          stroke-width="2.4"
          stroke-dasharray="3.2 2.6"
        />
      )}
    </svg>
  )
}

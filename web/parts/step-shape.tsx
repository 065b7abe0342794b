export type StepKind = 'held' | 'failed' | 'unseen'

export const STEP_STATES: Readonly<Record<StepKind, string>> = {
  held: 'seen',
  failed: 'failed',
  unseen: 'not seen',
}

export const stepKind = (held: boolean | null): StepKind =>
  held === null ? 'unseen' : held ? 'held' : 'failed'

/** A step of a start: a tick, a cross or an empty ring. */
export function StepShape({ kind }: { kind: StepKind }) {
  return (
    <svg width="18" height="18" viewBox="0 0 18 18" aria-hidden="true">
      {kind === 'held' ? (
        <path d="M2.5 9.5 7 14 15.5 4" fill="none" stroke="currentColor" stroke-width="3" />
      ) : kind === 'failed' ? (
        <path d="M3 3l12 12M15 3 3 15" stroke="currentColor" stroke-width="3.4" />
      ) : (
        <circle
          cx="9"
          cy="9"
          r="6.5"
          fill="none"
          stroke="currentColor"
          stroke-width="2"
          stroke-dasharray="3 2.4"
        />
      )}
    </svg>
  )
}

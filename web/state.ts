import type { DriveAnswer, DriveSummary, Sample } from '../shared/api.ts'
import type { Span } from '../shared/units.ts'
import { createStore } from './store.ts'

export interface Busy {
  readonly doing: string
  readonly share: number
  readonly stop: () => void
}

export interface State {
  readonly drives: readonly DriveSummary[] | null
  readonly samples: readonly Sample[]
  readonly drive: DriveAnswer | null
  /** The stretch that every time chart shows. */
  readonly span: Span
  /** Where the cursor stands, seconds; null where it stands nowhere. */
  readonly cursorS: number | null
  /** Ends of the measured stretch. */
  readonly markA: number | null
  readonly markB: number | null
  /** What dragging on a chart does. */
  readonly drag: 'zoom' | 'move'
  /** Channels of the Drive view, a list a chart. */
  readonly charts: readonly (readonly string[])[]
  /** What is under way, and how far; null where nothing is. */
  /** What is under way; `stop` ends it. */
  readonly busy: Busy | null
  readonly error: string | null
}

export const state = createStore<State>({
  drives: null,
  samples: [],
  drive: null,
  span: [0, 1],
  cursorS: null,
  markA: null,
  markB: null,
  drag: 'zoom',
  charts: [],
  busy: null,
  error: null,
})

const SHORTEST_S = 0.05

/** Shows this stretch, kept within the drive and not shorter than 50 ms. */
export function showSpan([from, to]: Span): void {
  const { drive } = state.get()
  const endS = Math.max(drive?.summary.duration_s ?? 1, SHORTEST_S)
  const length = Math.min(endS, Math.max(SHORTEST_S, to - from))
  const start = Math.min(Math.max(0, from), endS - length)
  state.set({ span: [start, start + length] })
}

export function zoomAbout(atS: number, factor: number): void {
  const [from, to] = state.get().span
  showSpan([atS - (atS - from) * factor, atS + (to - atS) * factor])
}

/** Moves by a share of what is shown: 0.5 is half a screen later. */
export function moveBy(share: number): void {
  const [from, to] = state.get().span
  const by = (to - from) * share
  showSpan([from + by, to + by])
}

export function showWhole(): void {
  showSpan([0, state.get().drive?.summary.duration_s ?? 1])
}

/** A stretch with air on both sides, for looking at a moment. */
export function around([from, to]: Span): Span {
  const air = Math.max(1, (to - from) * 0.15)
  return [from - air, to + air]
}

export function fail(error: unknown): void {
  state.set({ error: error instanceof Error ? error.message : String(error), busy: null })
}

import type { Held } from './start-signals.ts'

/** The first readings after a box wakes may be anything for this long, s. Common practice, no source. */
const WAKES_S = 1

/** A stretch that begins with the channel's first sample and is over within a second: the box was waking. */
export const wakingUp = ({ from, to, startS, endS }: Held): boolean =>
  !Number.isFinite(from.earliestS) && to !== null && endS - startS < WAKES_S

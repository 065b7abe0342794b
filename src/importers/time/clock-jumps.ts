/** With a row a minute or fewer an hour is no jump; no source. */
const SLOW_LOG_S = 60

/**
 * When a log's own clock jumped, and by how much: decided here once for tables and frames. All in seconds.
 *
 *     12.0 12.1 │ 1773479553.0    forward by over a day: no drive pauses so long inside one log, the clock was set
 *     5.0 5.1   │ 3605.1          forward by an hour, on a local clock: daylight saving or time zone
 *     812.3     │ 0.0             back to zero: the counter started again
 *     65.5      │ 0.0             back from where a counter wraps: no step (both walkers know their counters)
 *
 * A step takes the pause as one usual spacing. Blind: a jump forward by less looks like a pause of the log and stays
 * one, unless another log shows it (`drive/clock/clock-heal.ts`); how long a box was off before its counter started
 * again is not in the log.
 */
export interface ClockStep {
  /** Straightened own time. */
  readonly at_s: number
  /** What the clock jumped by beyond the usual spacing. */
  readonly step_s: number
  readonly why: string
  /** A counter that wrapped, or midnight: nothing to tell. */
  readonly usual?: true
}

export interface ClockJump {
  readonly stepS: number
  readonly why: string
}

export const DAY_S = 86400
export const HOUR_S = 3600
/** 2001-01-01: a stamp before it is a clock that nobody set; boxes begin in 1970 or 2000. No log of ours is older. */
export const UNSET_BEFORE_S = 978_307_200

const WHY = {
  set: 'the clock was set forward by over a day',
  unset: 'the clock was set late: stamps before it are not the date',
  hourOn: 'the clock went forward by an hour (daylight saving or time zone)',
  hourBack: 'the clock went back by an hour (daylight saving or time zone)',
  again: 'the clock started again from zero; how long it stood is not in the log',
  back: 'the clock went back',
} as const

interface Beside {
  /** Usual distance of two stamps. */
  readonly spacingS: number
  /** A wall clock without a zone: daylight saving may shift it. */
  readonly local: boolean
  /** The stamp before the jump, in seconds since 1970 where the clock carries dates; else NaN. */
  readonly dateS: number
}

/** A jump forward; null where it is a pause. */
export function forwardJump(jumpS: number, { spacingS, local, dateS }: Beside): ClockJump | null {
  const stepS = jumpS - spacingS
  if (jumpS > Math.max(DAY_S, 20 * spacingS))
    return { stepS, why: dateS < UNSET_BEFORE_S ? WHY.unset : WHY.set }
  const nearHour = Math.abs(stepS - HOUR_S) < Math.max(2, 2 * spacingS) && spacingS < SLOW_LOG_S
  return local && nearHour ? { stepS: HOUR_S, why: WHY.hourOn } : null
}

/** A jump back that no counter's wrap explains. */
export function backwardJump(jumpS: number, stampS: number, { spacingS, local }: Beside): ClockJump {
  const near = Math.max(2, 20 * spacingS)
  if (local && Math.abs(jumpS + HOUR_S) < near) return { stepS: -HOUR_S, why: WHY.hourBack }
  const toZero = stampS < Math.max(5, 50 * spacingS) && stampS - jumpS > 10 * near
  return { stepS: jumpS - spacingS, why: toZero ? WHY.again : WHY.back }
}

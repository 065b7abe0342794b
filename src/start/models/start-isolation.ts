import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Span } from '../../../shared/units.ts'
import { LIVE_V } from '../../drive/live-volts.ts'
import type { Facts } from '../../facts/facts.ts'
import { median, robustSpread } from '../../math/stats.ts'
import { chargerConnected } from './charger-connected.ts'
import { voltages } from './precharge-voltages.ts'
import { firstMain } from './start-sequences.ts'
import { startSignals, valueAt } from './start-signals.ts'

/** A monitor at the end of its range reads its top so often, and no lower top than this, kΩ; no source. */
const TOPS = 5
/** See above. */
const TOP_KOHM = 1000
/** Fewer readings, or a shorter time, show no trend; no source. */
const FEWEST_FOR_TREND = 20
/** See above. */
const TREND_FROM_S = 600

/** A stretch of settled readings under a limit. */
export interface LowSpell {
  readonly startS: number
  readonly endS: number
  /** Ω/V, median over the stretch. */
  readonly ohmPerVolt: number
  /** Robust spread of its readings, Ω/V. */
  readonly spread: number
  readonly readings: number
  readonly lastsToEnd: boolean
}

export interface IsolationRecord {
  readonly highestWorkingV: number
  /** Settled readings in Ω/V with their moments; start-up, saturated and charging ones left out. */
  readonly timeS: readonly number[]
  readonly ohmPerVolt: readonly number[]
  readonly settledFromS: number
  readonly saturated: number
  readonly startUp: number
  readonly charging: number
  /** Median of the settled readings. */
  readonly median: number
  readonly spread: number
  readonly lowest: number
  /** Change per hour, % of the median; null under ten minutes. */
  readonly trendPercentPerHour: number | null
  /** Medians with both mains open and closed; NaN where too few readings. */
  readonly open: number
  readonly closed: number
  low(limitOhmPerVolt: number): LowSpell[]
}

export type IsolationState = IsolationRecord | { readonly missing: ChannelId[]; readonly why: string }

/** Readings in a row that count as a state, not a spike. Common practice, no source. */
const IN_A_ROW = 3
/**
 * A monitor may take this long after the log's start or a change before its reading is settled, s. Common practice,
 * no source.
 */
const SETTLE_S = 30
/** The charger may be on the mains so long before a slow log shows it, s. Common practice, no source. */
const SETTLE_BEFORE_S = 10

/**
 * Isolation in Ω/V: isolation_resistance ÷ the highest working voltage seen.
 * Left out: start-up (readings before the first three in a row that agree with what follows), saturated readings (the
 * log's top value, seen often), readings with the charger connected (`charge-isolation.ts`).
 * Source of the division: UN R100 5.1.3.
 */
export function isolationRecord(facts: Facts): IsolationState {
  const channel = facts.drive.channels.get('isolation_resistance')
  if (!channel) return { missing: ['isolation_resistance'], why: 'no isolation monitor is logged' }
  const { highestV } = facts.once(voltages)
  if (!(highestV > LIVE_V))
    return {
      missing: ['pack_voltage'],
      why: 'an isolation resistance is logged but no pack voltage (nor every cell) to set it against',
    }
  const { apart: raw, plugged } = readingsByPlug(facts, channel)
  const { kept: unsaturated, saturated, ceilingUntilS } = withoutSaturated(raw)
  const measured = unsaturated.filter(({ atS }) => atS > ceilingUntilS)
  const firstReal = measured.findIndex(({ value }) => value > 0)
  const begun = firstReal < 0 ? [] : measured.slice(firstReal)
  const settled = begun.slice(startUpReadings(begun))
  const skip = unsaturated.length - settled.length
  if (settled.length < IN_A_ROW)
    return {
      missing: [],
      why:
        saturated > 0 && saturated >= raw.length / 2
          ? 'the monitor reads its top value only: isolation is at least that, or the monitor is not measuring'
          : measured.length >= IN_A_ROW && firstReal < 0
            ? 'the reading is 0 throughout: the monitor does not measure, or there is a full short; find out which at the car'
            : 'fewer than three settled isolation readings',
    }
  const timeS = settled.map(({ atS }) => atS)
  const ohmPerVolt = settled.map(({ value }) => (value * 1000) / highestV)
  const centre = median(ohmPerVolt)
  const [open, closed] = byContactors(facts, timeS, ohmPerVolt)
  return {
    highestWorkingV: highestV,
    timeS,
    ohmPerVolt,
    settledFromS: timeS[0]!,
    saturated,
    startUp: skip,
    charging: plugged.length,
    median: centre,
    spread: robustSpread(ohmPerVolt),
    lowest: lowestInARow(ohmPerVolt),
    trendPercentPerHour: trend(timeS, ohmPerVolt, centre),
    open,
    closed,
    low: (limit) => lowSpells(timeS, ohmPerVolt, limit),
  }
}

export interface Reading {
  readonly atS: number
  /** kΩ. */
  readonly value: number
}

/**
 * New readings, those with the charger connected apart: they hold what it brings (`charger-connected.ts`).
 */
export function readingsByPlug(facts: Facts, channel: Channel): { apart: Reading[]; plugged: Reading[] } {
  // the monitor settles after the charger comes and goes
  const spans = facts
    .once(chargerConnected)
    .map(([from, to]): Span => [from - SETTLE_BEFORE_S, to + SETTLE_S])
  const apart: Reading[] = []
  const plugged: Reading[] = []
  const standsS = 1.5 * (freshPeriod(channel) ?? Number.POSITIVE_INFINITY)
  let lastS = Number.NEGATIVE_INFINITY
  for (let i = 0; i < channel.timeS.length; i++) {
    const value = channel.values[i]!
    const atS = channel.timeS[i]!
    // A held row only repeats the last reading; but one that stays longer than readings are apart was read again, alike.
    if (!Number.isFinite(value) || (channel.fresh?.[i] === 0 && atS - lastS < standsS)) continue
    lastS = atS
    ;(spans.some(([from, to]) => atS >= from && atS < to) ? plugged : apart).push({ atS, value })
  }
  return { apart, plugged }
}

/** How far new readings are usually apart where rows are held, s, at least 1; null where every sample is new or none is. */
function freshPeriod({ fresh, timeS }: Channel): number | null {
  if (!fresh) return null
  const moments = [...timeS].filter((_, i) => fresh[i] === 1)
  return moments.length < 2 ? 1 : Math.max(1, median(moments.slice(1).map((atS, i) => atS - moments[i]!)))
}

/** The log's top reading, seen five times or more exactly, is where the monitor stops counting. */
function withoutSaturated(raw: readonly { atS: number; value: number }[]) {
  const top = raw.reduce((most, { value }) => Math.max(most, value), 0)
  const atTop = raw.filter(({ value }) => value === top).length
  const others = new Set(raw.map(({ value }) => value)).size - 1
  const saturates = atTop >= TOPS && atTop > (raw.length / (others + 1)) * 3 && top >= TOP_KOHM
  // A noisy monitor at its top reads just under it half the time.
  const bar = saturates ? 0.97 * top : Number.POSITIVE_INFINITY
  const kept = raw.filter(({ value }) => value < bar)
  const start = raw[0]?.atS ?? 0
  const early = raw.find(({ value, atS }) => value >= bar && atS - start < SETTLE_S)
  const released = early ? raw.find(({ value, atS }) => value < bar && atS > early.atS) : undefined
  // A monitor that counts up to its top and then falls to its reading is still starting.
  const ceilingUntilS = early ? (released?.atS ?? Number.POSITIVE_INFINITY) - 1e-9 : Number.NEGATIVE_INFINITY
  return { kept, saturated: raw.length - kept.length, ceilingUntilS }
}

/** How many first readings are the monitor's start-up: not yet within a third of what follows, in the first 30 s. */
function startUpReadings(readings: readonly { atS: number; value: number }[]): number {
  const first = readings[0]
  if (!first) return 0
  for (let i = 0; i < readings.length; i++) {
    if (readings[i]!.atS - first.atS > SETTLE_S) return 0
    const later = readings.slice(i + 1, i + 16).map(({ value }) => value)
    if (later.length < IN_A_ROW) return 0
    const level = median(later)
    const near = readings.slice(i, i + IN_A_ROW).every(({ value }) => Math.abs(value - level) < level / 3)
    if (near) return i
  }
  return 0
}

function byContactors(
  facts: Facts,
  timeS: readonly number[],
  values: readonly number[],
): [open: number, closed: number] {
  const signals = facts.once(startSignals)
  const late = signals[firstMain(facts) === 'negative' ? 'positive' : 'negative'] ?? signals.positive
  const open: number[] = []
  const closed: number[] = []
  if (late)
    timeS.forEach((atS, i) => {
      const now = valueAt(late, atS)
      const steady = late.changes.every(
        (c) => !Number.isFinite(c.earliestS) || c.atS > atS || atS - c.atS > SETTLE_S / 3,
      )
      if (!steady) return
      if (now === 0) open.push(values[i]!)
      else if (now === 1) closed.push(values[i]!)
    })
  const of = (list: readonly number[]): number => (list.length >= IN_A_ROW ? median(list) : Number.NaN)
  return [of(open), of(closed)]
}

function lowestInARow(values: readonly number[]): number {
  let lowest = Number.POSITIVE_INFINITY
  for (let i = 0; i + IN_A_ROW <= values.length; i++)
    lowest = Math.min(lowest, median(values.slice(i, i + IN_A_ROW)))
  return lowest
}

function trend(timeS: readonly number[], values: readonly number[], centre: number): number | null {
  const n = timeS.length
  const spanS = timeS[n - 1]! - timeS[0]!
  if (n < FEWEST_FOR_TREND || spanS < TREND_FROM_S) return null
  const third = Math.floor(n / 3)
  const early = median(values.slice(0, third))
  const late = median(values.slice(-third))
  const between = median(timeS.slice(-third)) - median(timeS.slice(0, third))
  return (((late - early) / centre) * 100 * 3600) / between
}

export function lowSpells(timeS: readonly number[], values: readonly number[], limit: number): LowSpell[] {
  const smooth = values.map((_, i) => median(values.slice(Math.max(0, i - 1), i + 2)))
  const spells: LowSpell[] = []
  let from = -1
  for (let i = 0; i <= values.length; i++) {
    const low = i < values.length && smooth[i]! < limit
    if (low && from < 0) from = i
    if (low || from < 0) continue
    if (i - from >= IN_A_ROW) {
      const inside = values.slice(from, i)
      spells.push({
        startS: timeS[from]!,
        endS: timeS[i - 1]!,
        ohmPerVolt: median(inside),
        spread: robustSpread(inside),
        readings: i - from,
        lastsToEnd: i === values.length,
      })
    }
    from = -1
  }
  return spells
}

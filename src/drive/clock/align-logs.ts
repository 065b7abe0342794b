import type { ClockReport } from '../../../shared/drive.ts'
import type { RawLog } from '../../../shared/raw-log.ts'
import type { Span } from '../../../shared/units.ts'
import type { ClockStep } from '../../importers/time/clock-jumps.ts'
import type { Cleaned } from '../cleaning/clean-channel.ts'
import { type ClockFit, fitClock } from './clock-fit.ts'
import { healClock } from './clock-heal.ts'
import { type ClockSide, clockPairs } from './clock-pairs.ts'
import { roughLag } from './clock-search.ts'
import { instantMs, isZoned } from './wall-clock.ts'

/** A recorder begins a new file within a minute; no source. */
const LONGEST_PAUSE_S = 60

/** A log with its named series, in program units. */
export interface NamedLog {
  readonly log: RawLog
  readonly named: readonly Cleaned[]
}

/** drive time = own · rate + offset, with the 95 % half width of that. */
interface Placed {
  readonly rate: number
  readonly offsetS: number
  readonly plusMinusS: number | null
  readonly foundFrom: string
  /** Not on the drive's clock but on that of this log. */
  readonly own?: string
  /** Steps that only another log showed, already taken out of the log's times. */
  readonly steps?: readonly ClockStep[]
}

/**
 * Several logs of one drive on one clock. Drive time = own time · (1 + drift_ppm · 10⁻⁶) + offset_s.
 *
 * The rate is that of the first log that carries dates (else of the first log); 0 is the earliest sample of all logs,
 * so that no sample is negative. Each other log is placed against the one already placed with which it shares most:
 *  1. offsets given by the person stand;
 *  2. the data decide: correlation over all lags, refined below a sample, drift by windowed lags;
 *  3. where nothing is shared, wall clocks if both have dates;
 *  4. else a log whose own time goes on where another's ends keeps it;
 *  5. else the log stays on its own time (`own`), which `found_from` says, asking for `--offset`; later logs may join it.
 *
 * Steps of a log's clock that only another log shows are taken out of its time arrays in place (`clock-heal.ts`).
 *
 * @param offsets seconds to add to the second, third … log's own time to get the first's; null where the data decide
 */
export function alignLogs(
  logs: readonly NamedLog[],
  offsets: readonly (number | null)[] = [],
): ClockReport[] {
  const placed = place(logs, offsets)
  let earliest = Number.POSITIVE_INFINITY
  logs.forEach((log, at) => {
    earliest = Math.min(earliest, spanOf(log)[0] * placed[at]!.rate + placed[at]!.offsetS)
  })
  const zero = Number.isFinite(earliest) ? earliest : 0
  return placed.map(({ rate, offsetS, plusMinusS, foundFrom, own, steps = [] }, at) => ({
    offset_s: offsetS - zero,
    drift_ppm: (rate - 1) * 1e6,
    plus_minus_s: plusMinusS,
    found_from: foundFrom,
    ...(own ? { own } : {}),
    steps: [...logs[at]!.log.clockSteps, ...steps].map((step) => ({
      ...step,
      at_s: step.at_s * rate + offsetS - zero,
    })),
  }))
}

function place(logs: readonly NamedLog[], offsets: readonly (number | null)[]): Placed[] {
  if (logs.length <= 1) return logs.map(() => ({ ...STILL, plusMinusS: 0, foundFrom: 'the only log' }))
  const placed: (Placed | null)[] = logs.map((_, at) => {
    const given = (at === 0 ? null : offsets[at - 1]) ?? null
    return given === null || !Number.isFinite(given)
      ? null
      : { rate: 1, offsetS: given, plusMinusS: null, foundFrom: `given with --offset (${given} s)` }
  })
  const anyGiven = placed.some((each) => each !== null)
  const dated = logs.findIndex(({ log }) => log.startedAt !== null)
  const reference = anyGiven ? 0 : Math.max(0, dated)
  placed[reference] = { ...STILL, plusMinusS: 0, foundFrom: 'the clock that the others are put on' }
  const fits = new Map<string, ReturnType<typeof compare>>()
  const fitOf = (a: number, b: number): ReturnType<typeof compare> => {
    const name = `${a}/${b}`
    if (!fits.has(name)) fits.set(name, compare(logs[a]!, logs[b]!))
    return fits.get(name)!
  }
  const healed = new Map<number, ClockStep[]>()
  /** Takes out the steps that one log shows of another, once a log. @returns were there any? */
  const heal = (by: number, at: number): boolean => {
    if (healed.has(at)) return false
    const { log, named } = logs[at]!
    const steps = healClock(named, log.clockSteps, (part, expectS) =>
      compare(logs[by]!, { log, named: part }, expectS),
    )
    healed.set(at, steps)
    if (steps.length > 0) fits.clear()
    return steps.length > 0
  }
  /** Puts every log that shares something with a placed one beside it. */
  const placeByData = (): void => {
    for (;;) {
      let best: { at: number; onto: number; found: NonNullable<ReturnType<typeof compare>> } | null = null
      for (let at = 0; at < logs.length; at++) {
        if (placed[at]) continue
        for (let onto = 0; onto < logs.length; onto++) {
          if (!placed[onto]) continue
          const found = fitOf(onto, at)
          if (found && (!best || found.plusMinusS < best.found.plusMinusS)) best = { at, onto, found }
        }
      }
      if (!best) {
        // a step in the middle makes two lags equally likely: its parts alone may be clear
        const cured = logs.findIndex(
          (_, at) => !placed[at] && !healed.has(at) && logs.some((_, onto) => placed[onto] && heal(onto, at)),
        )
        if (cured < 0) return
        continue
      }
      if (best.onto === reference) heal(best.at, reference)
      heal(best.onto, best.at)
      const [base, log] = [logs[best.onto]!, logs[best.at]!]
      const found = fitOf(best.onto, best.at) ?? best.found
      placed[best.at] = onto(placed[best.onto]!, found, base.log.name, log, base)
    }
  }
  placeByData()
  const byDate = placed.map((each, at) => each ?? byWallClock(logs[at]!, logs, placed))
  // logs that share nothing with the others may share something among themselves
  for (let at = 0; at < logs.length; at++)
    if (!placed[at]) {
      placed[at] = byDate[at]!
      if (byDate[at]!.own) placeByData()
    }
  return placed.map((each, at) => ({ ...each!, steps: healed.get(at) ?? [] }))
}

/** Logs of one drive lie closer: dates further apart are a clock that nobody set. */
const FAR_S = 86_400

/** Below this, what only moves together is not asked. */
const GOOD_S = 0.1

const STILL = { rate: 1, offsetS: 0 } as const

/** Layouts in which a row holds what was read at one moment. */
const IN_ROWS = /^(wide CSV|Parquet, (wide|a drive))/

const sideOf = ({ log, named }: NamedLog): ClockSide => ({ named, inRows: IN_ROWS.test(log.layout) })

/** What two logs share decides; null where that is nothing, or too little to be sure. */
function compare(
  first: NamedLog,
  second: NamedLog,
  expectS = wallLag(first.log, second.log),
): ClockFit | null {
  const pairs = clockPairs(sideOf(first), sideOf(second))
  const rough = roughLag(pairs, expectS)
  if (!rough?.clear) return null
  // four quantities that both hold tell all that eight would
  const same = { ...rough, pairs: rough.pairs.filter((pair) => pair.same).slice(0, 4) }
  const exact = same.pairs.length > 0 ? fitClock(same) : null
  if (exact && exact.plusMinusS < GOOD_S) return exact
  const all = fitClock(rough)
  return exact && !(all && all.plusMinusS < exact.plusMinusS) ? exact : all
}

/** First log's own time − second's, by their dates; null where one has none. */
function wallLag(first: RawLog, second: RawLog): number | null {
  if (first.startedAt === null || second.startedAt === null) return null
  const lag = (instantMs(second.startedAt) - instantMs(first.startedAt)) / 1000
  if (!Number.isFinite(lag)) return null
  // one in local time, one in a zone: they differ by whole quarters of an hour that nothing tells
  return isZoned(first.startedAt) === isZoned(second.startedAt) ? lag : lag - Math.round(lag / 900) * 900
}

function onto(base: Placed, fit: ClockFit, name: string, log: NamedLog, other: NamedLog): Placed {
  const wall = wallLag(other.log, log.log)
  const apart = wall === null ? 0 : wall - fit.lagS
  const note =
    Math.abs(apart) > Math.max(2, fit.plusMinusS)
      ? `; its date and time say ${Math.abs(apart).toFixed(1)} s ${apart > 0 ? 'later' : 'earlier'}, the data decided`
      : ''
  const rate = fit.ratePlusMinus === null ? '; too short a stretch to see a drift' : ''
  return {
    rate: base.rate * (1 + fit.rate),
    offsetS: base.rate * fit.lagS + base.offsetS,
    ...(base.own === undefined ? {} : { own: base.own }),
    plusMinusS: base.plusMinusS === null ? null : Math.hypot(base.plusMinusS, fit.plusMinusS),
    foundFrom: `${list(fit.from)}, shared with ${name}${rate}${note}`,
  }
}

function byWallClock(log: NamedLog, logs: readonly NamedLog[], placed: readonly (Placed | null)[]): Placed {
  for (let other = 0; other < logs.length; other++) {
    const base = placed[other]
    const wall = base ? wallLag(logs[other]!.log, log.log) : null
    if (!base || wall === null || Math.abs(wall) > FAR_S) continue
    return {
      rate: base.rate,
      offsetS: base.rate * wall + base.offsetS,
      plusMinusS: null,
      foundFrom: `date and time alone: no channel shared with ${logs[other]!.log.name} fixes it, so how exact it is cannot be told; give --offset where you know better`,
    }
  }
  for (let other = 0; other < logs.length; other++) {
    const base = placed[other]
    if (!base || !goesOn(logs[other]!, log)) continue
    return {
      rate: base.rate,
      offsetS: base.offsetS,
      plusMinusS: null,
      foundFrom: `its own time, which goes on where that of ${logs[other]!.log.name} ends; give --offset where you know better`,
    }
  }
  const reference = placed.findIndex((each) => each !== null)
  const apartS = reference < 0 ? 0 : spanOf(logs[reference]!)[0] - spanOf(log)[0]
  return {
    ...STILL,
    // Counters a day and more apart would only stretch the drive: it begins where the others do.
    ...(Math.abs(apartS) > FAR_S ? { offsetS: apartS + placed[reference]!.offsetS } : {}),
    plusMinusS: null,
    own: log.log.name,
    foundFrom: `not aligned: it shares no channel and no date with the other logs that fixes its clock; give --offset with the seconds to add`,
  }
}

/** A recorder that began a new file and kept its clock: one log's time begins soon after the other's ends. */
function goesOn(first: NamedLog, second: NamedLog): boolean {
  if (first.log.layout !== second.log.layout || second.log.startedAt !== null) return false
  const [a, b] = [spanOf(first), spanOf(second)]
  const pause = Math.max(a[0], b[0]) - Math.min(a[1], b[1])
  return pause > 0 && pause < LONGEST_PAUSE_S
}

function spanOf({ named }: NamedLog): Span {
  let from = Number.POSITIVE_INFINITY
  let to = Number.NEGATIVE_INFINITY
  for (const { series } of named) {
    from = Math.min(from, series.timeS[0] ?? from)
    to = Math.max(to, series.timeS[series.timeS.length - 1] ?? to)
  }
  return [from, to]
}

const list = (names: readonly string[]): string =>
  names.length < 2 ? (names[0] ?? '') : `${names.slice(0, -1).join(', ')} and ${names[names.length - 1]}`

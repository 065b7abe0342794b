import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import { contactorState } from '../car/contactor-state.ts'
import { distance } from '../car/distance.ts'
import { packCurrent } from '../car/pack-current.ts'
import { type PackPower, packPower } from '../car/pack-power.ts'
import { channel, type Facts, family } from '../facts/facts.ts'
import { extremes } from '../math/stats.ts'
import { linearAt } from '../samples/on-one-clock.ts'

/** Nothing is summed over a longer gap; no source. */
const LONGEST_GAP_S = 5
/** The rest before a peak lies no farther back; no source. */
const REST_BEFORE_S = 60

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null)

/** The head of the review: files, segments, length and peaks, each by the first part that holds it. */
export function summariseDrive(drive: Drive, parts: readonly Facts[]): Review['drive'] {
  return {
    files: drive.files.map(({ repeats: _, clock: { own: __, ...clock }, ...file }) => ({
      ...file,
      skipped: file.skipped.map((each) => ({ ...each })),
      clock: { ...clock, steps: clock.steps.map(({ usual: _, ...step }) => step) },
    })),
    segments: drive.segments.map((segment) => ({ ...segment, span_s: [...segment.span_s] })),
    started_at: drive.startedAt,
    duration_s: drive.durationS,
    distance_km: firstHeld(parts.map((facts) => facts.once(distance)?.km)),
    peak: parts.map(peaks).reduce(heldByEither),
  }
}

const firstHeld = (all: readonly (number | null | undefined)[]): number | null =>
  all.find((each) => each !== null && each !== undefined) ?? null

function heldByEither(first: Peaks, other: Peaks): Peaks {
  const names = Object.keys(first) as (keyof Peaks)[]
  return Object.fromEntries(names.map((name) => [name, first[name] ?? other[name]])) as Peaks
}

type Peaks = Review['drive']['peak']

/** Largest and smallest readings of the drive; null where the log has none. Cells and sensors within belief only. */
function peaks(facts: Facts): Peaks {
  const power = facts.once(packPower)
  const current = facts.once(packCurrent)
  const amperes = extremes(power?.amperes ?? current?.amperes ?? [])
  const speed = extremes(channel(facts, 'speed')?.values ?? [])
  const cells = [
    ...family(facts, 'cell_voltage').map((each) => each.channel),
    ...(['lowest_cell_voltage', 'highest_cell_voltage'] as const).flatMap((id) => channel(facts, id) ?? []),
  ].map((each) => extremes(each.values, 0.5, 5))
  const sensors = [
    ...family(facts, 'module_temperature').map((each) => each.channel),
    ...(channel(facts, 'hottest_temperature') ? [channel(facts, 'hottest_temperature')!] : []),
  ].map((each) => extremes(each.values).high)
  return {
    current_a: finite(amperes.high),
    charge_current_a: finite(Math.max(0, -amperes.low)),
    rms_current_a: current ? rms(facts, current.timeS, power?.amperes ?? current.amperes) : null,
    power_w: finite(extremes(power?.watts ?? []).high),
    speed_kmh: finite(Math.max(speed.high, -speed.low)),
    lowest_cell_v: least(cells.map((each) => each.low)),
    highest_cell_v: most(cells.map((each) => each.high)),
    hottest_c: most(sensors),
    sag_v: power ? sagAtPeak(power) : null,
  }
}

const most = (values: readonly number[]): number | null => finite(extremes(values).high)
const least = (values: readonly number[]): number | null => finite(extremes(values).low)

/** Root mean square over the time with contactors not open: what heats cells and joints. */
function rms(facts: Facts, timeS: Float64Array, amperes: Float64Array): number | null {
  const open = facts.once(contactorState).of('open')
  let squares = 0
  let seconds = 0
  let place = 0
  for (let i = 1; i < timeS.length; i++) {
    while (place < open.length && open[place]![1] <= timeS[i]!) place++
    if (place < open.length && open[place]![0] <= timeS[i]!) continue
    const dt = timeS[i]! - timeS[i - 1]!
    if (dt > LONGEST_GAP_S || !Number.isFinite(amperes[i]!)) continue
    squares += amperes[i]! ** 2 * dt
    seconds += dt
  }
  return seconds > 0 ? Math.sqrt(squares / seconds) : null
}

/**
 * Pack voltage lost at the peak current, V: from the last moment within a minute before with under 5 % of the peak,
 * to the lowest within half a second of the peak. null where no such moment was.
 */
function sagAtPeak(power: PackPower): number | null {
  const { timeS, amperes, volts } = power
  let peak = -1
  for (let i = 0; i < timeS.length; i++)
    if (Number.isFinite(volts[i]!) && amperes[i]! > (peak < 0 ? 5 : amperes[peak]!)) peak = i
  if (peak < 0) return null
  let rest = peak
  while (rest >= 0 && !(Math.abs(amperes[rest]!) < 0.05 * amperes[peak]!)) rest--
  if (rest < 0 || timeS[peak]! - timeS[rest]! > REST_BEFORE_S) return null
  const around = [-0.5, -0.25, 0, 0.25, 0.5].map((off) => timeS[peak]! + off)
  const lowest = extremes(linearAt({ timeS, values: volts }, around)).low
  return finite(volts[rest]! - lowest)
}

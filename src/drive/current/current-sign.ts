import type { Channel, Segment } from '../../../shared/drive.ts'
import { median, quantile, robustSpread } from '../../math/stats.ts'
import { neverNegative, resolveMagnitude } from './current-magnitude.ts'
import { type Bins, binWitnesses, PROVED, weighCurrent } from './power-balance.ts'

/** Less current than this has no sign worth telling; no source. */
const FLOWS_A = 5

type Channels = ReadonlyMap<string, Channel>

export interface SignedCurrent {
  /** The current, discharge positive as far as that can be told; the zero is not touched. */
  readonly channel: Channel
  /** Appended to the report's conversion; null where nothing was changed. */
  readonly conversion: string | null
  /** Sentences for `assumptions`. */
  readonly assumptions: readonly string[]
}

/** A single stretch is turned against the rest of its log only by stronger evidence. */
const STRETCH_PROVED = 8
/** A driving stretch is weighed in windows this long. */
const WINDOW_S = 60

/**
 * Judges the sign of a battery current from the car itself, stretch by stretch, and turns it where it is wrong:
 * discharge positive, so that a loaded pack sags and V · I follows torque · speed.
 *
 *     reversed log      −I everywhere                       turned round
 *     magnitude only    never negative, yet the motor brakes or the voltage rises under it
 *                       → sign of mechanical power plus the standing load, else of the voltage against its rest level
 *     reversed stretch  one charging or driving stretch disagrees with the rest → that stretch alone
 *
 * Reads the current [A], pack voltage or the cells [V], torque [N·m] and motor speed [rpm].
 * Gives `channel.sign`: `proved`, `from-magnitude`, or `unproved` (nothing in the log tells).
 * Blind to gain; a magnitude below the noise keeps the sign of the load.
 */
export function signCurrent(
  current: Channel,
  channels: Channels,
  segments: readonly Segment[],
  durationS: number,
): SignedCurrent {
  const bins = binWitnesses(channels, current, durationS)
  const assumptions: string[] = []
  const conversions: string[] = []
  let values = current.values
  const binned = (): Float64Array => bins.means({ timeS: current.timeS, values })
  const whole = weighCurrent(bins, binned())
  const oneSided = neverNegative(values) || neverNegative(values.map((value) => -value))
  const unsigned = oneSided ? resolveMagnitude(current, values.map(Math.abs), bins) : null
  let sign: NonNullable<Channel['sign']> = Math.abs(whole.score) >= PROVED ? 'proved' : 'unproved'
  if (unsigned) {
    values = unsigned.values
    sign = 'from-magnitude'
    conversions.push(`magnitude only; sign from ${unsigned.from}`)
    assumptions.push(
      `Battery current ${current.from} is logged without a sign; it was taken from ${unsigned.from}. Charge and energy put back depend on it.`,
    )
  } else if (whole.score <= -PROVED) {
    values = values.map((value) => -value)
    conversions.push('sign turned round')
    assumptions.push(
      `Battery current ${current.from}: its sign was turned round so that discharge is positive, because ${because(bins)}.`,
    )
  }
  const turned = turnStretches({ ...current, values }, binned(), bins, segments, sign !== 'from-magnitude')
  if (turned) {
    values = turned.values
    conversions.push(turned.conversion)
    assumptions.push(`Battery current ${current.from}: ${turned.why}.`)
  }
  if (
    sign === 'unproved' &&
    (weighCurrent(bins, binned()).score >= PROVED || chargesRightly(binned(), bins, segments))
  )
    sign = 'proved'
  if (sign === 'unproved' && flows(values))
    assumptions.push(
      `Nothing in the log proves the sign of the battery current ${current.from}: it was taken as logged, discharge positive.`,
    )
  return {
    channel: { ...current, values, sign },
    conversion: conversions.length > 0 ? conversions.join('; ') : null,
    assumptions,
  }
}

/** Does a current or power beside the battery's clearly count what flows back as positive? */
export function chargesPositive(channel: Channel, channels: Channels, durationS: number): boolean {
  const bins = binWitnesses(channels, channel, durationS)
  const { timeS, values } = channel
  if (neverNegative(values)) return false
  return weighCurrent(bins, bins.means({ timeS, values })).score <= -PROVED
}

/** Was there any current worth a sign? */
function flows(values: Float64Array): boolean {
  return Math.max(quantile(values, 0.995), -quantile(values, 0.005)) > FLOWS_A
}

function because(bins: Bins): string {
  const voltage = bins.voltsFrom ? `${bins.voltsFrom.replaceAll('_', ' ')} falls under load` : ''
  const power = bins.hasMechanical ? 'power follows torque times speed' : ''
  return [voltage, power].filter(Boolean).join(' and ')
}

/** Turns single stretches whose evidence is strong and against the rest. */
function turnStretches(
  current: Channel,
  amperes: Float64Array,
  bins: Bins,
  segments: readonly Segment[],
  driving: boolean,
): { values: Float64Array; conversion: string; why: string } | null {
  const spans: { from: number; to: number; why: string }[] = []
  for (const { span_s, type } of segments) {
    const from = Math.floor(bins.placeOf(span_s[0]))
    const to = Math.min(bins.count, Math.ceil(bins.placeOf(span_s[1])))
    if (type === 'charging' && median(amperes.subarray(from, to)) > 1 && climbs(bins.volts, from, to))
      spans.push({ from: span_s[0], to: span_s[1], why: 'while charging it was logged as if discharging' })
    if (type !== 'driving' || !driving) continue
    for (const [start, end] of reversedWindows(bins, amperes, from, to))
      spans.push({
        from: bins.startOf(start),
        to: bins.startOf(end),
        why: 'its sign is reversed against the rest of the log',
      })
  }
  if (spans.length === 0) return null
  const values = current.values.map((value, i) => {
    const at = current.timeS[i]!
    return spans.some(({ from, to }) => at >= from && at < to) ? -value : value
  })
  const where = spans.map(({ from, to }) => `${from.toFixed(1)} to ${to.toFixed(1)} s`).join(', ')
  const why = [...new Set(spans.map((span) => span.why))].join(' and ')
  return { values, conversion: `sign turned round from ${where}`, why: `from ${where} ${why}; turned round` }
}

/**
 * Windows of a driving stretch, in bins, whose evidence is strong and against the rest; a window that says little
 * goes with the one before it.
 */
function reversedWindows(bins: Bins, amperes: Float64Array, from: number, to: number): [number, number][] {
  const size = Math.round(WINDOW_S / bins.stepS)
  const found: [number, number][] = []
  let reversed = false
  for (let start = from; start < to; start += size) {
    const end = Math.min(to, start + size)
    const { score } = weighCurrent(bins, amperes, start, end)
    if (Math.abs(score) >= STRETCH_PROVED) reversed = score < 0
    if (!reversed) continue
    const last = found[found.length - 1]
    if (last && last[1] === start) last[1] = end
    else found.push([start, end])
  }
  return found
}

/** Does a charging stretch show charging current, and a voltage that climbs under it? */
function chargesRightly(amperes: Float64Array, bins: Bins, segments: readonly Segment[]): boolean {
  return segments.some(({ span_s, type }) => {
    const from = Math.floor(bins.placeOf(span_s[0]))
    const to = Math.min(bins.count, Math.ceil(bins.placeOf(span_s[1])))
    return type === 'charging' && median(amperes.subarray(from, to)) < -1 && climbs(bins.volts, from, to)
  })
}

/** Does the voltage climb over a stretch, or step up at its start and stay? As charging makes it. */
function climbs(allVolts: Float64Array, from: number, to: number): boolean {
  const volts = allVolts.subarray(from, to)
  const tenth = Math.max(2, Math.floor(volts.length / 10))
  const early = volts.subarray(0, tenth)
  const late = volts.subarray(volts.length - tenth)
  const before = allVolts.subarray(Math.max(0, from - 3 * tenth), from)
  const noise = Math.max(robustSpread(early), robustSpread(late), 1e-4 * median(volts))
  const climb = median(late) - median(early)
  const step = before.length > 2 ? median(early) - median(before) : 0
  return climb > 3 * noise || (climb > -noise && step > 3 * noise)
}

import type { ChannelId } from '../../../shared/channels.ts'
import { extremes, median, quantile } from '../../math/stats.ts'
import { LIVE_V } from '../live-volts.ts'
import type { Cleaned } from './clean-channel.ts'

/** What the other channels show of the drive, over all logs. */
interface Seen {
  /** The car drove, and current flowed for it. */
  readonly drives: boolean
  readonly values: (id: ChannelId) => Float64Array | null
}

/** Common practice, no source. */
const ROLLS_KMH = 10
const TURNS_RPM = 300
const LOAD_A = 20
const WARM_C = 8
const TRACK_MOVES = 0.05
const PULLS_NM = 10

/**
 * Channels that many boxes send although nothing feeds them: 0 from the first row to the last. Each with what proves
 * that it should have moved. A charge limit of 0 alone is no such proof: a full or cold pack has it.
 */
const RULES: Readonly<Record<string, (seen: Seen) => boolean>> = {
  torque: ({ drives }) => drives,
  torque_request: ({ drives }) => drives,
  link_voltage: ({ drives }) => drives,
  pack_voltage: ({ values }) => top(values('link_voltage')) > LIVE_V || top(values('cell_voltage.1')) > 1,
  pedal_position: ({ drives, values }) =>
    drives && (moves(values('pedal_track_1')) || top(values('torque')) > PULLS_NM),
  discharge_limit: ({ drives }) => drives,
  charge_limit: ({ drives, values }) => drives && isNought(values('discharge_limit')),
  coolant_in: warmPack,
  coolant_out: warmPack,
  inverter_temperature: warmPack,
  motor_temperature: warmPack,
} satisfies Partial<Record<ChannelId, (seen: Seen) => boolean>>

/** Takes them out under their own names: what nothing feeds accuses nobody, and stands in for nothing. */
export function withoutUnfed(logs: readonly (readonly Cleaned[])[]): Cleaned[][] {
  const all = logs.flat()
  const values = (id: ChannelId): Float64Array | null =>
    all.find((each) => each.id === id && each.series.labels === null)?.series.values ?? null
  const current = values('pack_current')
  const seen: Seen = {
    drives:
      (top(values('speed')) > ROLLS_KMH || top(values('motor_speed')) > TURNS_RPM) &&
      current !== null &&
      quantile(current, 0.99) - quantile(current, 0.01) > LOAD_A,
    values,
  }
  return logs.map((log) =>
    log.map((each) =>
      RULES[each.id] && each.series.labels === null && isNought(each.series.values) && RULES[each.id]!(seen)
        ? { ...each, id: each.series.name, sureness: 0, why: whyOf(each), skipped: [] }
        : each,
    ),
  )
}

const UNFED = 'nothing seems to feed it, left out'
const whyOf = ({ id }: Cleaned): string =>
  `${id} stands at 0 throughout, though the rest of the log shows that it should have moved: ${UNFED}`

/** The sentences for `assumptions`. */
export const unfedNotes = (all: readonly Cleaned[]): string[] =>
  all.flatMap(({ why }) => (why.endsWith(UNFED) ? [why] : []))

function isNought(values: Float64Array | null): boolean {
  if (values === null) return false
  const { low, high } = extremes(values)
  return low === 0 && high === 0
}

function top(values: Float64Array | null): number {
  return values === null ? Number.NaN : quantile(values, 0.99)
}

function moves(values: Float64Array | null): boolean {
  if (values === null) return false
  const [low, high] = [quantile(values, 0.01), quantile(values, 0.99)]
  return high - low > TRACK_MOVES * Math.max(Math.abs(low), Math.abs(high))
}

function warmPack({ values }: Seen): boolean {
  const pack = values('module_temperature.1') ?? values('hottest_temperature')
  return pack !== null && Math.abs(median(pack)) > WARM_C
}

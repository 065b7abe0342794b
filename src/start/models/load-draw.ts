import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import { contactorState } from '../../car/contactor-state.ts'
import { type Facts, logged } from '../../facts/facts.ts'
import { insideEach } from '../../math/spans.ts'
import { median, quantile } from '../../math/stats.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import { heldAt, linearAt, staleAfter } from '../../samples/on-one-clock.ts'

/** A load of the cabin on the high voltage, and what was asked of it. */
export interface LoadDraw {
  readonly name: 'cabin heater' | 'cabin cooler'
  /** Fresh samples; what it reads with the contactors open is taken off. */
  readonly timeS: Float64Array
  readonly watts: Float64Array
  /** Its most, W (98 of 100 samples lie below). */
  readonly mostW: number
  readonly channels: readonly ChannelId[]
  readonly request: LoadRequest | null
}

export interface LoadRequest {
  readonly id: ChannelId
  /** At the load's own samples, W; of a request that is only on or off 0, or NaN for "so much as it takes". */
  readonly askedW: Float64Array
  /** 1 asked, 0 not, NaN unknown; at the load's own samples. */
  readonly asked: Float64Array
}

/** A request whose most is less says on or off (1, or a share in percent), not watts; no source. */
const AMOUNT_W = 101
/** Under a twentieth of its most nothing is asked; no source. */
const NOTHING_SHARE = 0.05
/** What a reading may show with nothing on the link before it is another thing than an offset, W; no source. */
const MOST_OFFSET_W = 200
const FEWEST_OPEN = 5
const STALE_S = 5

/**
 * Heater and cooler as the log has them: `heater_power`, `cooler_power` [W], else `heater_current` [A] times the link's
 * (else the pack's) voltage; `heater_request`, `cooler_request` beside them.
 */
export function loadDraws(facts: Facts): readonly LoadDraw[] {
  const heater = power(facts, 'heater_power') ?? byCurrent(facts)
  const cooler = power(facts, 'cooler_power')
  return [
    ...(heater ? [draw(facts, 'cabin heater', heater, 'heater_request')] : []),
    ...(cooler ? [draw(facts, 'cabin cooler', cooler, 'cooler_request')] : []),
  ]
}

interface Watts {
  readonly timeS: Float64Array
  readonly watts: Float64Array
  readonly channels: readonly ChannelId[]
}

function power({ drive }: Facts, id: ChannelId): Watts | null {
  const channel = drive.channels.get(id)
  if (!channel) return null
  const { timeS, values } = freshSamples(channel)
  return { timeS, watts: values, channels: [id] }
}

function byCurrent(facts: Facts): Watts | null {
  const { channels } = facts.drive
  const current = channels.get('heater_current')
  const volts = channels.get('link_voltage') ?? channels.get('pack_voltage')
  if (!current || !volts) return null
  const { timeS, values } = freshSamples(current)
  const level = linearAt(volts, timeS, STALE_S)
  return {
    timeS,
    watts: values.map((amps, i) => amps * level[i]!),
    channels: ['heater_current', ...logged(facts, ['link_voltage', 'pack_voltage'] as const).slice(0, 1)],
  }
}

function draw(facts: Facts, name: LoadDraw['name'], read: Watts, requestId: ChannelId): LoadDraw {
  const { timeS, channels } = read
  const open = insideEach(facts.once(contactorState).of('open'), timeS)
  const idle = read.watts.filter((_, i) => open[i] === 1)
  const offset = idle.length >= FEWEST_OPEN ? median(idle) : 0
  const watts = Math.abs(offset) < MOST_OFFSET_W ? read.watts.map((each) => each - offset) : read.watts
  const request = facts.drive.channels.get(requestId)
  return {
    name,
    timeS,
    watts,
    mostW: quantile(watts, 0.98),
    channels,
    request: request ? requestOf(request, requestId, timeS) : null,
  }
}

function requestOf(channel: Channel, id: ChannelId, timeS: Float64Array): LoadRequest {
  const held = heldAt(channel, timeS, staleAfter(channel))
  const most = quantile(channel.values, 0.98)
  const amounts = most > AMOUNT_W
  const asked = held.map((each) => (Number.isNaN(each) ? each : each > NOTHING_SHARE * most ? 1 : 0))
  return {
    id,
    asked,
    askedW: held.map((each, i) => (asked[i] === 0 ? 0 : amounts ? each : Number.NaN)),
  }
}

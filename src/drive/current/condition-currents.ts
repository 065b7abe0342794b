import type { Channel, ChannelReport, Segment } from '../../../shared/drive.ts'
import { samplePeriod } from '../../samples/on-one-clock.ts'
import type { Conditioning } from '../conditioning.ts'
import { chargesPositive, signCurrent } from './current-sign.ts'
import { deriveCurrent, followsTorque } from './derive-current.ts'

/** How sure a current is that was worked out from others and that the car supports. */
const WORKED_OUT_SURENESS = 0.7

/** The battery current: told from the motor's, worked out where none is logged, discharge positive. */
export function conditionCurrents(work: Conditioning, segments: readonly Segment[]): void {
  const { channels, durationS } = work
  const called = channels.get('pack_current')
  const motor = called ? followsTorque(called, channels, durationS) : null
  if (called && motor) {
    work.rename(called, 'phase_current', motor)
    work.assumptions.push(`${motor}.`)
  }
  const workedOut = channels.has('pack_current') ? null : deriveCurrent(channels, durationS)
  if (workedOut) {
    work.put(workedOut.channel, null)
    work.report(reportOf(workedOut.channel, workedOut.assumption))
    work.assumptions.push(workedOut.assumption)
  }
  const current = channels.get('pack_current')
  if (current) {
    const signed = signCurrent(current, channels, segments, durationS)
    work.put(signed.channel, signed.conversion)
    work.assumptions.push(...signed.assumptions)
  }
  for (const id of ['inverter_dc_current', 'pack_power']) {
    const other = channels.get(id)
    if (!other || !chargesPositive(other, channels, durationS)) continue
    work.put({ ...other, values: other.values.map((value) => -value) }, 'sign turned round')
    work.assumptions.push(
      `${other.from}: its sign was turned round so that what leaves the battery is positive.`,
    )
  }
}

/** Second readings of the battery current get its sign by the same evidence; nothing is said of them. */
export function conditionSpare(work: Conditioning, segments: readonly Segment[], spare: Channel): Channel {
  if (spare.id !== 'pack_current') return spare
  return signCurrent(spare, work.channels, segments, work.durationS).channel
}

function reportOf(channel: Channel, why: string): ChannelReport {
  const period = samplePeriod(channel.timeS)
  return {
    id: channel.id,
    from: `${channel.file}: ${channel.from}`,
    unit_in: channel.unit,
    conversion: 'none',
    samples: channel.timeS.length,
    rate_hz: period > 0 ? 1 / period : null,
    gaps: [],
    sureness: WORKED_OUT_SURENESS,
    why,
  }
}

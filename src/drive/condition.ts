import type { Channel, ChannelReport, Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { chargesPositive, signCurrent } from './current-sign.ts'
import { deriveCurrent, followsTorque } from './derive-current.ts'
import { findSegments } from './segments.ts'
import { normalSelector } from './selector.ts'
import { levelSwitch } from './switch-levels.ts'
import { isSwitch, type Polarity, switchPolarity } from './switch-polarity.ts'

/**
 * Last step of building a drive: switches to 0/1 the right way round, the selector to −1/0/1, segments, the battery
 * current's sign (discharge positive). The current's zero stays in: `packCurrent` takes it out.
 * Returns a new drive; what was turned round stands in `assumptions` and in `reports[].conversion`.
 */
export function conditionDrive(drive: Drive, _vehicle: Vehicle): Drive {
  const channels = new Map(drive.channels)
  const conversions = new Map<string, string[]>()
  const assumptions: string[] = []
  const changed = (channel: Channel, conversion: string | null): void => {
    channels.set(channel.id, channel)
    if (conversion) conversions.set(channel.id, [...(conversions.get(channel.id) ?? []), conversion])
  }
  const plainWords = new Set<string>()
  for (const each of drive.channels.values()) {
    const levelled = levelSwitch(each)
    if (levelled.plainWords) plainWords.add(each.id)
    if (levelled.channel !== each) changed(levelled.channel, levelled.conversion)
  }
  const judge = switchPolarity(channels, drive.durationS)
  for (const each of [...channels.values()].filter(isSwitch)) {
    const { polarity, why } = plainWords.has(each.id)
      ? { polarity: 'as-named' as const, why: 'its values are plain words' }
      : named(judge(each), each, drive.reports)
    if (polarity !== 'inverted') changed({ ...each, polarity }, null)
    else {
      changed({ ...each, polarity, values: each.values.map((value) => 1 - value) }, `inverted: ${why}`)
      assumptions.push(`Switch ${each.from} was turned round: ${why}.`)
    }
  }
  const selector = channels.get('selector')
  if (selector) {
    const normal = normalSelector(selector, channels)
    changed(normal.channel, normal.conversion)
    if (normal.conversion) assumptions.push(`Selector codes of ${selector.from}: ${normal.conversion}.`)
  }
  const segments = findSegments(channels, drive.durationS)
  const called = channels.get('pack_current')
  const motor = called ? followsTorque(called, channels, drive.durationS) : null
  if (called && motor) {
    channels.delete('pack_current')
    if (!channels.has('phase_current')) channels.set('phase_current', { ...called, id: 'phase_current' })
    assumptions.push(`${motor}.`)
  }
  const workedOut = channels.has('pack_current') ? null : deriveCurrent(channels, drive.durationS)
  if (workedOut) {
    channels.set('pack_current', workedOut.channel)
    assumptions.push(workedOut.assumption)
  }
  const current = channels.get('pack_current')
  if (current) {
    const signed = signCurrent(current, channels, segments, drive.durationS)
    changed(signed.channel, signed.conversion)
    assumptions.push(...signed.assumptions)
  }
  for (const id of ['inverter_dc_current', 'pack_power']) {
    const other = channels.get(id)
    if (!other || !chargesPositive(other, channels, drive.durationS)) continue
    changed({ ...other, values: other.values.map((value) => -value) }, 'sign turned round')
    assumptions.push(`${other.from}: its sign was turned round so that what leaves the battery is positive.`)
  }
  const spares = drive.spares.map((spare) =>
    spare.id === 'pack_current' ? signCurrent(spare, channels, segments, drive.durationS).channel : spare,
  )
  const renamed = (report: ChannelReport): ChannelReport =>
    motor && report.id === 'pack_current' && report.from.endsWith(`: ${called!.from}`)
      ? { ...report, id: 'phase_current', why: `${report.why}; ${motor}` }
      : report
  return {
    ...drive,
    channels,
    spares,
    segments,
    reports: drive.reports.map((report) => withConversions(renamed(report), channels, conversions)),
    assumptions: [...drive.assumptions, ...assumptions],
  }
}

/** Where nothing else fixes it: a person who maps a column to `interlock_closed` has said what 1 means. */
function named(found: Polarity, channel: Channel, reports: readonly ChannelReport[]): Polarity {
  const column = `${channel.file}: ${channel.from}`
  const given = reports.some(
    ({ id, from, sureness }) => id === channel.id && from === column && sureness === 1,
  )
  return found.polarity === null && given
    ? { polarity: 'as-named', why: 'the map or signal table says so' }
    : found
}

/** Adds what conditioning did to the report of the very column that the channel came from. */
function withConversions(
  report: ChannelReport,
  channels: ReadonlyMap<string, Channel>,
  conversions: ReadonlyMap<string, readonly string[]>,
): ChannelReport {
  const done = conversions.get(report.id)
  const channel = channels.get(report.id)
  if (!done || !channel || report.from !== `${channel.file}: ${channel.from}`) return report
  const before = report.conversion === 'none' ? [] : [report.conversion]
  return { ...report, conversion: [...before, ...done].join('; ') }
}

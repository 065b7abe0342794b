import { describe, expect, test } from 'vitest'
import { groupLogs } from '../../src/batch/group-logs.ts'
import type { SeenLog } from '../../src/batch/look-at-log.ts'

const at = (text: string): number => Date.parse(`2026-11-27T${text}Z`)

/** A log by name, box and the time it covers. */
function log(name: string, box: string, from?: string, to?: string): SeenLog {
  const clock = from === undefined ? null : ([at(from), at(to!)] as const)
  return { path: `/logs/${name}`, name, sha256: name, box, clock }
}

const drives = (logs: readonly SeenLog[], by?: Parameters<typeof groupLogs>[1]) =>
  groupLogs(logs, by).map((group) => group.logs.map(({ name }) => name).join(' + '))

describe('which logs are one drive', () => {
  test('clock: logs of different boxes that cover the same time, whatever they are called', () => {
    const logs = [
      log('a.csv', 'bms', '10:00:00', '10:10:00'),
      log('b.csv', 'bms', '11:00:00', '11:10:00'),
      log('x.pcap', 'bus', '11:00:30', '11:09:00'),
      log('y.pcap', 'bus', '09:59:00', '10:11:00'),
    ]
    expect(drives(logs)).toEqual(['a.csv + y.pcap', 'b.csv + x.pcap'])
    expect(groupLogs(logs)[0]!.why).toBe('by clock: they cover the same time (2026-11-27 10:00 to 10:10)')
  })

  test('dates that lie apart keep logs apart, though names and folder agree', () => {
    expect(
      drives([
        log('bms-07.csv', 'bms', '10:00:00', '10:10:00'),
        log('inverter-07.csv', 'inverter', '12:00:00', '12:10:00'),
      ]),
    ).toEqual(['bms-07.csv', 'inverter-07.csv'])
  })

  test('name: what changes from log to log of a box stands in the other’s name', () => {
    const logs = [
      log('bms2_run-07.csv', 'bms'),
      log('bms2_run-08.csv', 'bms'),
      log('run-7_inverter.csv.gz', 'inverter'),
      log('run-8_inverter.csv.gz', 'inverter'),
    ]
    expect(drives(logs)).toEqual([
      'bms2_run-07.csv + run-7_inverter.csv.gz',
      'bms2_run-08.csv + run-8_inverter.csv.gz',
    ])
    expect(groupLogs(logs)[0]!.why).toBe('by name: both say "7"')
  })

  test('folder: one log of each box, and nothing that speaks against it', () => {
    const logs = [log('battery.csv', 'bms'), log('vehicle.pcap', 'bus')]
    expect(groupLogs(logs)).toEqual([{ logs, why: 'by folder: one log of each of its boxes' }])
  })

  test('two logs of one box are two drives, unless a person says otherwise', () => {
    const logs = [log('a.csv', 'bms'), log('b.csv', 'bms')]
    expect(drives(logs)).toEqual(['a.csv', 'b.csv'])
    expect(drives(logs, 'folder')).toEqual(['a.csv + b.csv'])
  })

  test('one thing alone, as asked', () => {
    const logs = [log('battery.csv', 'bms'), log('vehicle.pcap', 'bus')]
    expect(drives(logs, 'clock')).toEqual(['battery.csv', 'vehicle.pcap'])
    expect(drives(logs, 'file')).toEqual(['battery.csv', 'vehicle.pcap'])
    expect(
      drives(
        [log('r1.csv', 'a', '10:00:00', '10:10:00'), log('s1.csv', 'b', '10:00:00', '10:10:00')],
        'name',
      ),
    ).toEqual(['r1.csv + s1.csv'])
  })

  test('a log that nothing could be read of goes with no other', () => {
    expect(drives([log('a.csv', ''), log('b.csv', 'bms')])).toEqual(['a.csv', 'b.csv'])
  })
})

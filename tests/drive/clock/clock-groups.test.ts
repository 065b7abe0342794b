import { expect, test } from 'vitest'
import type { Drive, DriveFile } from '../../../shared/drive.ts'

import { clockGroups } from '../../../src/drive/clock/clock-groups.ts'
import { reviewDrive } from '../../../src/review/review.ts'
import { driveFromText } from '../../helpers/drive-from-text.ts'

const file = (name: string, own?: string): DriveFile => ({
  name,
  sha256: '0'.repeat(64),
  layout: 'wide CSV',
  rows: 3,
  skipped: [],
  clock: {
    offset_s: 0,
    drift_ppm: 0,
    plus_minus_s: null,
    found_from: 'told by the test',
    ...(own ? { own } : {}),
    steps: [],
  },
})

function twoLogs(own?: string): Drive {
  const drive = driveFromText(`
    time_s  pack_voltage  contactor_negative  key_on
    0       330           0                   0
    1       330           1                   0
    2       330           1                   0
    60      330           0                   1`)
  const channels = new Map(drive.channels)
  channels.set('key_on', { ...channels.get('key_on')!, file: 'pedals.csv' })
  return {
    ...drive,
    channels,
    files: [file('text'), file('pedals.csv', own)],
  }
}

test('logs on one clock are one part', () => {
  expect(clockGroups(twoLogs())).toHaveLength(1)
})

test('a log that is not aligned is a part of its own: its key never meets the other log\u2019s contactors', () => {
  const parts = clockGroups(twoLogs('pedals.csv'))
  expect(parts.map((part) => [...part.channels.keys()])).toEqual([
    ['pack_voltage', 'contactor_negative'],
    ['key_on'],
  ])
  const review = reviewDrive(twoLogs('pedals.csv'), {})
  const steps = review.starts.flatMap((start) => start.steps.filter((step) => step.name === 'key'))
  expect(steps.every((step) => step.held === null)).toBe(true)
})

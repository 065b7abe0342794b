import { expect, it } from 'vitest'
import type { ChannelReport } from '../../shared/drive.ts'
import { conditionDrive } from '../../src/drive/condition.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'
import { smallDrive } from '../helpers/stop-and-go.ts'

const small = smallDrive({ cells: 1 })
const report = (id: string, from: string, sureness: number): ChannelReport => ({
  id,
  from,
  unit_in: 'A',
  conversion: 'none',
  samples: 1,
  rate_hz: null,
  gaps: [],
  sureness,
  why: 'its words',
})

it('says in the report of the column what was turned round, and in no other', () => {
  const columns = { ...small.columns, pack_current: small.columns.pack_current!.map((value) => -value) }
  const raw = driveFromColumns(small.timeS, columns)
  const reports = [report('pack_current', 'text: pack_current', 0.9), report('pack_current', 'other: I', 0.5)]
  const drive = conditionDrive({ ...raw, reports }, {})
  expect(drive.reports.map((each) => each.conversion)).toEqual(['sign turned round', 'none'])
})

it('renames the report of a current that turns out to be the motor’s', () => {
  const phase = small.columns.torque!.map((nm) => 3 * Math.abs(nm) + 1)
  const raw = driveFromColumns(small.timeS, { ...small.columns, pack_current: phase })
  const drive = conditionDrive({ ...raw, reports: [report('pack_current', 'text: pack_current', 0.9)] }, {})
  expect(drive.reports[0]).toMatchObject({ id: 'phase_current' })
  expect(drive.reports[0]!.why).toContain('follows torque')
})

it('takes a mapped switch at its word where nothing else fixes it', () => {
  const timeS = [0, 1, 2, 3, 4]
  const raw = driveFromColumns(timeS, { interlock_closed: [0, 0, 0, 0, 0] })
  const named = conditionDrive(
    { ...raw, reports: [report('interlock_closed', 'text: interlock_closed', 1)] },
    {},
  )
  const hvil = new Map([['interlock_closed', { ...raw.channels.get('interlock_closed')!, from: 'hvil' }]])
  const guessed = conditionDrive(
    { ...raw, channels: hvil, reports: [report('interlock_closed', 'text: hvil', 0.8)] },
    {},
  )
  const mapped = conditionDrive(
    { ...raw, channels: hvil, reports: [report('interlock_closed', 'text: hvil', 1)] },
    {},
  )
  const polarity = [named, guessed, mapped].map((each) => each.channels.get('interlock_closed')!.polarity)
  expect(polarity).toEqual(['as-named', null, 'as-named'])
})

it('leaves the drive that it is given as it was', () => {
  const raw = driveFromColumns(small.timeS, small.columns)
  const before = raw.channels.get('pack_current')!.values.slice()
  conditionDrive(raw, {})
  expect(raw.channels.get('pack_current')!.values).toEqual(before)
  expect(raw.channels.get('pack_current')!.sign).toBeUndefined()
})

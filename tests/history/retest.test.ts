import { expect, it } from 'vitest'
import { retest } from '../../src/history/retest.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { BLOCKED, drawnStart } from '../helpers/drawn-start.ts'

it('a start that failed is not seen any more where later ones came through; seconds say nothing of attempts', () => {
  const before = reviewDrive(drawnStart({ columns: { ...BLOCKED, interlock_closed: () => 0 } }), {})
  const after = reviewDrive(drawnStart(), {})
  const failed = before.findings.find(({ kind }) => kind === 'no-drive')!
  const told = retest(failed, before, after)
  expect(told.state).toBe('not-seen')
  expect(told.sentence).toBe('Not seen any more; 1 of 1 attempt to start came through.')
  expect(told.smallest_seen).toBeNull()
  expect(retest(failed, before, before).state).toBe('same')
})

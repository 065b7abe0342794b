import { ZodError } from 'zod'
import { visible } from '../../shared/visible.ts'
import { LogError } from '../errors.ts'
import { diskFault } from '../library/durable.ts'

/** Every refusal of the server: its code, HTTP status and sentence. One table; each has a test. */
export const REFUSALS = {
  'wrong-host': [421, 'This address is not the one the server listens on; open the address it printed.'],
  'wrong-origin': [403, 'The request comes from another page; only the server’s own page may ask.'],
  'no-such-place': [404, 'There is nothing at this address.'],
  'no-such-drive': [404, 'There is no stored drive with this id.'],
  'no-such-car': [404, 'No car of this name has a stored drive or a record.'],
  'no-such-finding': [404, 'No stored drive of this car has a finding of this name.'],
  'no-such-file': [404, 'The car has no such file.'],
  'damaged-record': [409, 'The record of this car is damaged; its drives and files are untouched.'],
  'newer-record': [409, 'The record of this car was written by a newer version of the program.'],
  'no-such-import': [404, 'There is no import with this id.'],
  'no-such-channel': [404, 'The drive has no channel of this name.'],
  'no-such-table': [404, 'There is no table of this name.'],
  'no-such-sample': [404, 'There is no sample drive of this name.'],
  'bad-request': [400, 'The request is not in the form expected.'],
  'too-large': [413, 'The file is larger than the server takes.'],
  'wrong-length': [400, 'The file that came is not as long as was said.'],
  'wrong-state': [409, 'The import is already under way.'],
  'no-log': [400, 'No log was given; at least one is needed.'],
  'cannot-replay': [409, 'This drive does not hold what a replay needs.'],
  'damaged-drive': [409, 'This stored drive is damaged; its logs can still be exported and reviewed again.'],
  busy: [503, 'Another program is writing in the data directory; try again when it is done.'],
  disk: [507, 'The disk does not take what was to be written.'],
  cancelled: [409, 'The import was cancelled.'],
  stuck: [503, 'The import made no progress for a quarter of an hour and was ended.'],
  'import-died': [
    500,
    'The import ended without an answer, for want of memory or by a fault; the others go on.',
  ],
  failed: [500, 'The server failed at this; its terminal says more.'],
} as const satisfies Record<string, readonly [status: number, sentence: string]>

export type RefusalCode = keyof typeof REFUSALS

/** A refusal with its code; `detail` is added to the table's sentence. */
export class Refusal extends Error {
  readonly code: RefusalCode

  constructor(code: RefusalCode, detail = '') {
    super(detail ? `${REFUSALS[code][1]} ${detail}` : REFUSALS[code][1])
    this.code = code
  }
}

/** Any error → what is answered: no path of this machine in it, and unknown ones say nothing of their insides. */
export function answerOf(error: unknown): { status: number; code: string; sentence: string } {
  const { status, code, sentence } = plainAnswer(error)
  return {
    status,
    code,
    sentence: visible(sentence.replace(/(?:[a-z]:)?(?:[\\/][\w.@ -]+){2,}/gi, 'a file')),
  }
}

function plainAnswer(error: unknown): { status: number; code: string; sentence: string } {
  if (error instanceof Refusal)
    return { status: REFUSALS[error.code][0], code: error.code, sentence: error.message }
  if (error instanceof LogError) {
    const known = REFUSALS[error.code as RefusalCode]
    return { status: known ? known[0] : 422, code: error.code, sentence: error.message }
  }
  if (error instanceof ZodError) {
    const issue = error.issues[0]
    const detail = issue ? `${issue.path.join('.') || 'It'}: ${issue.message}.` : ''
    return plainAnswer(new Refusal('bad-request', detail))
  }
  const fault = diskFault(error)
  if (fault !== null)
    return { status: REFUSALS.disk[0], code: 'disk', sentence: `${REFUSALS.disk[1]} It says: ${fault}.` }
  const status = (error as { status?: unknown }).status
  if (status === 413) return plainAnswer(new Refusal('too-large'))
  if (typeof status === 'number' && status >= 400 && status < 500)
    return plainAnswer(new Refusal('bad-request'))
  return { status: 500, code: 'failed', sentence: REFUSALS.failed[1] }
}

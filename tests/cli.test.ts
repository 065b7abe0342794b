import { execFile } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { failure, LogError } from '../src/errors.ts'

/** Wrong arguments and wrong files: exit status 2, nothing on standard output, one sentence that says what to do. */
const HOME = join(import.meta.dirname, '..')
const folder = mkdtempSync(join(tmpdir(), 'aftermile-cli-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const file = (name: string, text: string): string => {
  writeFileSync(join(folder, name), text)
  return join(folder, name)
}
const LOG = file('drive.csv', 'Time [s],Vehicle speed [km/h]\n0,0\n1,10\n2,20\n3,10\n4,0\n')

interface Ran {
  status: number
  out: string
  err: string
}

const run = (...args: string[]): Promise<Ran> => runWith({}, ...args)

function runWith(env: Record<string, string>, ...args: string[]): Promise<Ran> {
  return new Promise((done) => {
    execFile(
      process.execPath,
      ['--import', 'tsx', join(HOME, 'src/cli.ts'), ...args],
      { cwd: HOME, env: { ...process.env, AFTERMILE_DATA: join(folder, 'data'), ...env } },
      (error, out, err) => done({ status: error ? Number(error.code) : 0, out, err }),
    )
  })
}

it.concurrent.each<[string, string[], RegExp]>([
  ['no log', ['review'], /^aftermile review: no log was named; .*such as aftermile review drive\.csv\.$/],
  [
    'an unknown option',
    ['review', LOG, '--bogus'],
    /^aftermile: Unknown option '--bogus'; see aftermile --help\.$/,
  ],
  [
    'a JSON file as log',
    ['review', file('vehicle.json', '{}')],
    /a JSON file is no log; a vehicle file goes with --vehicle/,
  ],
  ['a log twice', ['review', LOG, LOG], /drive\.csv: is named twice/],
  [
    'a signal table that is not there',
    ['review', LOG, '--signals', 'nowhere.json'],
    /^nowhere\.json: there is no such file; a signal table was expected\.$/,
  ],
  [
    'a vehicle file that is not there',
    ['review', LOG, '--vehicle', 'nowhere.json'],
    /^nowhere\.json: there is no such file; a vehicle file \(JSON\) was expected\.$/,
  ],
  [
    'a vehicle file with a word for a number',
    ['review', LOG, '--vehicle', file('v.json', '{"pack":{"cells":"many"}}')],
    /v\.json: field pack\.cells: "many" was found, a number was expected\.$/,
  ],
  [
    'a table that there is none of',
    ['review', LOG, '--table', 'nope'],
    /there is no table "nope"; cells, modules, brake-applications, starts were expected\.$/,
  ],
  [
    'more offsets than logs',
    ['review', LOG, '--offset', '-3'],
    /1 offsets for 1 logs; one for each log after the first was expected\.$/,
  ],
  [
    'an id that is not stored',
    ['library', 'show', '12'],
    /no stored drive has the id "12"; aftermile library list shows them\.$/,
  ],
])(
  'says in one sentence what to do about %s',
  async (_, args, sentence) => {
    const { status, out, err } = await run(...args)
    expect(err.trimEnd()).toMatch(sentence)
    expect(err.trimEnd()).not.toContain('\n')
    expect(out).toBe('')
    expect(status).toBe(2)
  },
  60_000,
)

it('passes over a field of the vehicle file that it does not know, and says so', async () => {
  const vehicle = file('slip.json', '{"name":"Sorrel","pack":{"cels":12}}')
  const { status, out, err } = await run('review', LOG, '--vehicle', vehicle)
  expect(err).toContain('slip.json: field pack.cels is not known and was passed over.')
  expect(out).toContain('Too little was assessed to conclude')
  expect(status).toBe(3)
}, 60_000)

it('prints a review that was computed though its sheet cannot be written, and says so', async () => {
  const { status, out, err } = await run('review', LOG, '--report', join(folder, 'no', 'such', 'sheet.html'))
  expect(out).toContain('Too little was assessed to conclude')
  expect(err).toMatch(/sheet\.html: cannot be written \(ENOENT\)\.\n$/)
  expect(status).toBe(2)
}, 60_000)

it('prints a review that was computed though it cannot be kept', async () => {
  const { status, out, err } = await runWith(
    { AFTERMILE_DATA: file('blocked', 'x') },
    'review',
    LOG,
    '--save',
  )
  expect(out).toContain('Too little was assessed to conclude')
  expect(err.trimEnd()).not.toContain('\n')
  expect(status).toBe(2)
}, 60_000)

it('a failure of the program itself is status 4, one sentence, the trace only when asked for', () => {
  const error = new TypeError('x is not a function\nand more')
  const quiet = failure(error, false)
  expect(quiet.status).toBe(4)
  expect(quiet.text).toMatch(
    /^aftermile: the program itself failed \(x is not a function\); .*--trace says where\.\n$/,
  )
  expect(failure(error, true).text).toMatch(/\n +at /)
  expect(failure('broken', true)).toMatchObject({ status: 4 })
  expect(failure(new LogError('usage', 'a sentence.'), true)).toEqual({ status: 2, text: 'a sentence.\n' })
})

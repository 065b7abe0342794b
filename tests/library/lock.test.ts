import { execFile, spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { hostname, tmpdir } from 'node:os'
import { join } from 'node:path'
import { promisify } from 'node:util'
import { afterAll, describe, expect, it } from 'vitest'
import { isRunning, ownerText } from '../../src/library/lock.ts'

const CHILD = join(import.meta.dirname, 'lock-child.ts')
const root = mkdtempSync(join(tmpdir(), 'aftermile-lock-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))
const count = (data: string, times: number) =>
  promisify(execFile)(process.execPath, ['--import', 'tsx', CHILD, data, String(times)])

describe('the lock of a data directory', () => {
  it('is one process’s alone: no count is lost, a dead holder’s lock broken by several at once included', {
    timeout: 120_000,
  }, async () => {
    const data = mkdtempSync(join(root, 'd-'))
    writeFileSync(join(data, 'count'), '0')
    const dead = spawnSync(process.execPath, ['-e', '0'])
    writeFileSync(join(data, 'lock'), `${hostname()} ${dead.pid} 1\nlock.${dead.pid}-x\n`)
    await Promise.all([count(data, 60), count(data, 60), count(data, 60)])
    expect(readFileSync(join(data, 'count'), 'utf8')).toBe('180')
    expect(readdirSync(data)).toEqual(['count'])
  })

  it('knows this process by its lock, whatever stands beneath its name; and a dead one', () => {
    expect(isRunning(`${ownerText()}\n/some/where/lock.1-x\n`)).toBe(true)
    const dead = spawnSync(process.execPath, ['-e', '0'])
    expect(isRunning(`${hostname()} ${dead.pid} 1\n`)).toBe(false)
  })
})

import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, relative } from 'node:path'
import { LogError } from '../../src/errors.ts'
import { drivesIn, loadDrive, openChannels, showDrive } from '../../src/library/library.ts'
import type { Place } from '../../src/library/paths.ts'
import { openPlace } from '../../src/library/place.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { smallDrive } from '../helpers/small-drive.ts'
import { type Failure, HANG_MS } from './fuzz.ts'
import { luck, mutateBytes, mutateText } from './mutate.ts'

/** One stored drive of which one file at a time is spoiled, read, and put back. Close it. */
export class StoredFiles {
  readonly #dir = mkdtempSync(join(tmpdir(), 'aftermile-fuzz-stored-'))
  readonly #place: Place
  readonly #id: string
  readonly #files: readonly (readonly [path: string, bytes: Buffer])[]

  constructor() {
    this.#place = openPlace(join(this.#dir, 'data'))
    const log = join(this.#dir, 'log.csv')
    writeFileSync(log, 'time,word\n0,1\n')
    const drive = smallDrive()
    const saved = {
      drive,
      review: reviewDrive(drive, {}),
      vehicle: {},
      logs: [{ path: log, name: 'log.csv' }],
    }
    this.#id = storeDrive(this.#place, saved).id
    const at = join(this.#place.dataDir, 'drives', this.#id)
    this.#files = readdirSync(at, { recursive: true, withFileTypes: true })
      .filter((entry) => entry.isFile())
      .map(({ parentPath, name }) => join(parentPath, name))
      .sort((a, b) => (withoutGeneration(a) < withoutGeneration(b) ? -1 : 1))
      .map((path) => [path, readFileSync(path)] as const)
  }

  /** Spoils one file and reads the drive in every way; null where each was answered or refused with a sentence. */
  tryOne(seed: number): Failure | null {
    const random = luck(seed)
    const [path, bytes] = this.#files[Math.floor(random() * this.#files.length)]!
    const name = withoutGeneration(relative(this.#dir, path))
    const isText = /\.json$|current$/.test(path) && random() < 0.8
    const spoiled = isText
      ? Buffer.from(mutateText(bytes.toString(), random, bytes.length * 2))
      : mutateBytes(bytes, random)
    const began = process.cpuUsage()
    let why: string | null = null
    try {
      if (random() < 0.05) rmSync(path)
      else writeFileSync(path, spoiled)
      for (const read of [
        () => drivesIn(this.#place),
        () => showDrive(this.#place, this.#id),
        () => this.#samples(),
      ])
        try {
          read()
        } catch (error) {
          if (!(error instanceof LogError)) throw error
        }
    } catch (error) {
      why = `${name}: ${(error as Error)?.stack ?? error}`
    } finally {
      writeFileSync(path, bytes)
    }
    const { user, system } = process.cpuUsage(began)
    if (why === null && (user + system) / 1000 > HANG_MS) why = `${name}: took over ${HANG_MS / 1000} s`
    return why === null ? null : { target: 'stored files', seed, why }
  }

  #samples(): void {
    loadDrive(this.#place, this.#id)
    const reader = openChannels(this.#place, this.#id)
    try {
      for (const { id } of reader.header.channels) {
        reader.points(id, [0, 60], 100)
        reader.valuesAt([id], 30)
      }
    } finally {
      reader.close()
    }
  }

  close(): void {
    rmSync(this.#dir, { recursive: true, force: true })
  }
}

/** A path without the generation's name, which is another in every run. */
function withoutGeneration(path: string): string {
  return path.replace(/g-[0-9a-f]{16}/, 'g')
}

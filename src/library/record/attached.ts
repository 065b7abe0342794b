import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { BOUNDS } from '../../../shared/bounds.ts'
import type { Attached } from '../../../shared/car-record.ts'
import { LogError } from '../../errors.ts'
import { OWN_FOLDER, step, writeAside } from '../durable.ts'
import { plainName } from '../library.ts'
import { carDir, type Place } from '../paths.ts'
import { changeRecord, readRecord } from './car-record.ts'

/**
 * Photos and files of a car: `cars/<key>/files/1`, `2`, …; names, sizes and hashes stand in the record. A file is whole
 * on the disk before the record names it; one that no record names (the process died between) is passed over and its
 * number not used again.
 */
export function attachFile(
  place: Place,
  car: string,
  from: string,
  of: Pick<Attached, 'name' | 'by' | 'about' | 'at' | 'finding'>,
): Attached {
  return attachBytes(place, car, bytesOf(from), of)
}

export function attachBytes(
  place: Place,
  car: string,
  bytes: Uint8Array,
  of: Pick<Attached, 'name' | 'by' | 'about' | 'at' | 'finding'>,
): Attached {
  let made: Attached | null = null
  const folder = join(carDir(place, car), 'files')
  changeRecord(place, car, (record) => {
    mkdirSync(folder, { recursive: true, mode: OWN_FOLDER })
    const used = [...record.files.map(({ number }) => number), ...numbersIn(folder)]
    const number = Math.max(0, ...used) + 1
    writeAside(join(folder, String(number)), bytes)
    step('file-written')
    const sha256 = createHash('sha256').update(bytes).digest('hex')
    made = { ...of, number, name: plainName(of.name), bytes: bytes.length, sha256 }
    return { ...record, files: [...record.files, made] }
  })
  return made!
}

function bytesOf(path: string): Buffer {
  let bytes: Buffer
  try {
    bytes = readFileSync(path)
  } catch (error) {
    throw new LogError('unreadable', `${path}: cannot be read (${(error as NodeJS.ErrnoException).code}).`)
  }
  if (bytes.length > BOUNDS.attachedBytes)
    throw new LogError(
      'too-large',
      `${path}: ${bytes.length} bytes; at most ${BOUNDS.attachedBytes} were expected of a photo or file.`,
    )
  return bytes
}

const numbersIn = (folder: string): number[] =>
  readdirSync(folder).flatMap((name) => (/^\d+$/.test(name) ? [Number(name)] : []))

/** Where a file of the car lies. @throws LogError where the record names none of that number */
export function attachedPath(place: Place, car: string, number: number): { file: Attached; path: string } {
  const file = readRecord(place, car).files.find((each) => each.number === number)
  const path = join(carDir(place, car), 'files', String(file?.number ?? 0))
  if (!file || !existsSync(path)) throw new LogError('no-such-file', `${car} has no file ${number}.`)
  return { file, path }
}

import { readFileSync, writeFileSync } from 'node:fs'
import { basename } from 'node:path'
import { ZodError } from 'zod'
import { PAPERS } from '../../shared/car-answer.ts'
import { DEED_STATES, type DeedState, deedSchema } from '../../shared/car-record.ts'
import { readingSchema } from '../../shared/reading.ts'
import { mapSchema } from '../../shared/review.ts'
import { LogError } from '../errors.ts'
import { onDisk } from '../library/durable.ts'
import { openPlace, type Place } from '../library/place.ts'
import { attachFile } from '../library/record/attached.ts'
import { carAnswer } from './answer.ts'
import { carsText, carText } from './car-text.ts'
import { ledgerOf } from './ledger.ts'
import { type CarFile, carsIn, openCar } from './open-car.ts'
import { paperOf } from './papers/papers.ts'
import { CAR_TABLES } from './series.ts'
import { tableOf } from './table-of.ts'
import { tableText } from './table-text.ts'
import { writeDeed, writeMap, writeNote, writeReading } from './work.ts'

/** Options of `aftermile car`, as they were typed. */
export interface CarValues {
  readonly data?: string | undefined
  readonly json?: boolean | undefined
  readonly by?: string | undefined
  readonly date?: string | undefined
  readonly reason?: string | undefined
  readonly before?: string | undefined
  readonly after?: string | undefined
  readonly unit?: string | undefined
  readonly finding?: string | undefined
}

/** `aftermile car …`: a car's record, what became of its findings, its papers. Gives the exit status. */
export async function runCar(
  positionals: readonly string[],
  values: CarValues,
  write: (text: string) => unknown,
): Promise<number> {
  const place = openPlace(values.data)
  const [car, doing = 'show', ...rest] = positionals
  if (car === undefined) {
    const cars = carsIn(place)
    write(values.json ? json(cars) : carsText(cars))
    return 0
  }
  try {
    return await one(place, car, doing, rest, values, write)
  } catch (error) {
    if (!(error instanceof ZodError)) throw error
    const [issue] = error.issues
    throw usage(
      `aftermile car ${doing}: ${issue?.path.join('.') ?? ''}: ${issue?.message ?? 'not understood'}.`,
    )
  }
}

interface Asked {
  readonly place: Place
  readonly file: CarFile
  readonly doing: string
  readonly rest: readonly string[]
  readonly values: CarValues
  readonly write: (text: string) => unknown
}

async function one(
  place: Place,
  car: string,
  doing: string,
  rest: readonly string[],
  values: CarValues,
  write: (text: string) => unknown,
): Promise<number> {
  const asked = { place, file: openCar(place, car), doing, rest, values, write }
  const table = CAR_TABLES.find((each) => each === doing)
  if (table) {
    want(asked, 0, 'nothing more was')
    const made = await tableOf(place, asked.file, table)
    write(values.json ? json(made) : tableText(made))
    return 0
  }
  if ((PAPERS as readonly string[]).includes(doing)) return printed(asked)
  if ((DEED_STATES as readonly string[]).includes(doing)) did(asked, doing as DeedState)
  else if (BRINGS[doing]) BRINGS[doing](asked)
  else if (doing === 'show') want(asked, 0, 'nothing more was')
  else
    throw usage(
      `aftermile car: there is no "${doing}"; show, ${[...DEED_STATES, ...Object.keys(BRINGS), ...CAR_TABLES, ...PAPERS].join(', ')} were expected.`,
    )
  const now = openCar(place, car)
  write(values.json ? json(carAnswer(now)) : carText(now, ledgerOf(now)))
  return 0
}

function want({ doing, rest }: Asked, count: number, what: string): void {
  if (rest.length !== count)
    throw usage(
      `aftermile car ${doing}: ${rest.length === 0 ? 'nothing' : rest.join(' ')} was given; ${what} expected.`,
    )
}

function printed(asked: Asked): number {
  const { file, doing, rest, values, write } = asked
  if (rest.length > 1) want(asked, 1, 'one file to write was')
  const paper = paperOf(file, doing)!
  const [path] = rest
  if (path !== undefined) onDisk(`${path} could not be written`, () => writeFileSync(path, paper.html))
  if (path === undefined || values.json) write(values.json ? json(paper.data) : paper.html)
  return 0
}

function did(asked: Asked, state: DeedState): void {
  const { place, file, doing, rest, values } = asked
  want(asked, 1, 'a finding’s name, such as joint-resistance-high/joint-41, was')
  const deed = {
    ...{ state, at: dated(values), by: signed(doing, values), reason: values.reason ?? '', drive: null },
    before: figure(values.before, values.unit),
    after: figure(values.after, values.unit),
  }
  writeDeed(place, file, rest[0]!, deedSchema.parse(deed))
}

/** What a person brings to a car's record. */
const BRINGS: Readonly<Record<string, (asked: Asked) => void>> = {
  reading(asked) {
    const { place, file, doing, rest, values } = asked
    want(asked, 4, 'kind, place, value and unit, such as joint "between cells 40 and 41" 0.08 mΩ, were')
    const [kind, at, value, unit] = rest
    const { finding } = values
    const reading = { kind, place: at, value: numberOf(value!), unit, date: dated(values) }
    writeReading(
      place,
      file.car,
      readingSchema.parse({ ...reading, by: signed(doing, values), ...(finding ? { finding } : {}) }),
    )
  },
  attach(asked) {
    const { place, file, doing, rest, values } = asked
    want(asked, 1, 'one file was')
    const { finding } = values
    attachFile(place, file.car, rest[0]!, {
      ...{ name: basename(rest[0]!), at: dated(values), by: signed(doing, values) },
      about: values.reason ?? '',
      ...(finding ? { finding } : {}),
    })
  },
  note(asked) {
    const { place, file, doing, rest, values } = asked
    want(asked, 1, 'the words of the note, in quotes, were')
    writeNote(place, file.car, { at: dated(values), by: signed(doing, values), text: rest[0]! })
  },
  tried(asked) {
    const { place, file, doing, rest, values } = asked
    want(asked, 1, 'a regeneration map (JSON) was')
    const map = mapSchema.parse(jsonFile(rest[0]!))
    const drive = file.drives.at(-1)?.summary.id ?? null
    const of = { at: dated(values), by: signed(doing, values), about: values.reason ?? '' }
    writeMap(place, file.car, { ...of, map, drive })
  },
}

const usage = (sentence: string): LogError => new LogError('usage', sentence)
const json = (value: unknown): string => `${JSON.stringify(value, null, 1)}\n`
const dated = ({ date }: CarValues): string => date ?? new Date().toISOString()

function signed(doing: string, { by }: CarValues): string {
  if (by?.trim()) return by.trim()
  throw usage(`aftermile car ${doing}: nobody was named; --by NAME was expected.`)
}

function numberOf(text: string): number {
  const value = Number(text)
  if (text.trim() === '' || !Number.isFinite(value)) throw usage(`"${text}" is no number; one was expected.`)
  return value
}

const figure = (text: string | undefined, unit = 'mΩ'): { value: number; unit: string } | null =>
  text === undefined ? null : { value: numberOf(text), unit }

function jsonFile(path: string): unknown {
  try {
    return JSON.parse(readFileSync(path, 'utf8'))
  } catch {
    throw usage(`${path}: cannot be read as JSON; a regeneration map was expected.`)
  }
}

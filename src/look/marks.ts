import { TRYING_A_CONTROL } from '../../shared/wording.ts'
import { LogError } from '../errors.ts'
import { identifierText } from '../importers/frames/signal.ts'
import type { Candidate } from './candidates.ts'
import type { MessageLook } from './look-message.ts'
import { bitsOf, rawValues } from './raw-values.ts'

/** Moments at which a person did one thing, in seconds of the capture. */
export interface Mark {
  readonly what: string
  readonly atS: readonly number[]
}

/** How one field answers at the marks, and nowhere else. */
export interface Answering {
  readonly mark: string
  readonly where: string
  readonly identifier: string
  readonly start_bit: number
  readonly length: number
  readonly byte_order: 'little' | 'big'
  /** Marks at which it changed, of all. */
  readonly answered: number
  readonly marks: number
  /** Seconds outside the marks in which it changed as much, of all such stretches. */
  readonly elsewhere: number
  /** 0 … 1. */
  readonly score: number
}

/** A person's hand and the recorder's clock: from so long before the mark to so long after. */
const BEFORE_S = 0.7
const AFTER_S = 1.2
const MOST_MARKS = 200

/**
 * `brake=12.5,30.1` (several, or lines of a file). @throws LogError where a mark cannot be read
 */
export function parseMarks(texts: readonly string[]): Mark[] {
  return texts.map((text) => {
    const [what = '', times = ''] = text.split('=')
    const atS = times
      .split(/[,;\s]+/)
      .filter((each) => each !== '')
      .map(Number)
    if (
      what.trim() === '' ||
      atS.length === 0 ||
      atS.length > MOST_MARKS ||
      atS.some((each) => !Number.isFinite(each))
    )
      throw new LogError(
        'usage',
        `--mark "${text.slice(0, 60)}" cannot be read; what was done and when, such as --mark brake=12.5,30.1 (seconds of the capture), was expected.`,
      )
    return { what: what.trim(), atS }
  })
}

/** Printed each time, before anything is tried at the car. Source: the project's safety page. */
export const BEFORE_TRYING: readonly string[] = [
  'Marks are of what a person did while the bus was only listened to. The program never sends a frame.',
  ...TRYING_A_CONTROL,
]

/**
 * Fields ranked by how they answer at the marked moments and nowhere else: share of marks with a change around them, times
 * how rarely the field changes as much in stretches of the same length without a mark.
 * Blind: what answers later than a second; what others moved at the same moments.
 */
export function rankByMarks(
  looks: readonly MessageLook[],
  candidates: readonly Candidate[],
  marks: readonly Mark[],
): Answering[] {
  const fields = [...switches(looks), ...numbers(candidates)]
  return marks.flatMap((mark) =>
    fields
      .map((field) => answering(field, mark))
      .filter((each) => each.answered > 0 && each.score > 0.05)
      .sort((a, b) => b.score - a.score || a.length - b.length)
      .slice(0, 10),
  )
}

interface MarkField {
  readonly identifier: string
  readonly where: string
  readonly place: { readonly startBit: number; readonly length: number; readonly byteOrder: 'little' | 'big' }
  readonly timeS: Float64Array
  readonly raw: Float64Array
}

/** Single bits that moved, in every message. */
function switches(looks: readonly MessageLook[]): MarkField[] {
  return looks.flatMap(({ message, contents }) =>
    contents.flatMap(({ message: own, flips, without, value }) =>
      Array.from(flips.flips).flatMap((count, bit): MarkField[] => {
        // a bit that flips in more than a tenth of the frames is no switch
        if (count === 0 || count > 0.1 * flips.pairs || (without[bit >> 3]! >> (bit & 7)) & 1) return []
        const place = { startBit: bit, length: 1, byteOrder: 'little' as const }
        return [
          {
            identifier: identifierText(message.key),
            where: `${identifierText(message.key)}${value === null ? '' : `, selector ${value}`}, byte ${bit >> 3} bit ${bit & 7}`,
            place,
            timeS: own.timeS,
            raw: rawValues(own, { ...place, signed: false }),
          },
        ]
      }),
    ),
  )
}

const numbers = (candidates: readonly Candidate[]): MarkField[] =>
  candidates.map(({ look, content, place, timeS, raw }) => ({
    identifier: identifierText(look.message.key),
    where: `${identifierText(look.message.key)}${content.value === null ? '' : `, selector ${content.value}`}, bytes ${[...new Set(bitsOf(place).map((bit) => bit >> 3))].join(' and ')}`,
    place,
    timeS,
    raw,
  }))

function answering({ identifier, where, place, timeS, raw }: MarkField, { what, atS }: Mark): Answering {
  const spans = atS.map((t) => moved(timeS, raw, t - BEFORE_S, t + AFTER_S))
  const range = moved(timeS, raw, Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY)
  // as much as at the marks, by half: a number's noise is no answer
  const sorted = [...spans].sort((a, b) => a - b)
  const least = Math.max(sorted[sorted.length >> 1]! / 2, 0.08 * range, 1e-9)
  const answered = spans.filter((each) => each >= least).length
  let stretches = 0
  let stirred = 0
  const length = BEFORE_S + AFTER_S
  const end = timeS[timeS.length - 1]!
  for (let from = timeS[0]!; from + length <= end; from += length) {
    if (atS.some((t) => t + AFTER_S + length > from && t - BEFORE_S < from + length)) continue
    stretches++
    if (moved(timeS, raw, from, from + length) >= least) stirred++
  }
  const elsewhere = stretches > 0 ? stirred / stretches : 1
  return {
    mark: what,
    where,
    identifier,
    start_bit: place.startBit,
    length: place.length,
    byte_order: place.byteOrder,
    answered,
    marks: atS.length,
    elsewhere,
    score: (answered / atS.length) * (1 - elsewhere) ** 2,
  }
}

/** Highest less lowest value in a stretch. */
function moved(timeS: Float64Array, raw: Float64Array, fromS: number, toS: number): number {
  let at = 0
  let to = timeS.length
  while (at < to) {
    const middle = (at + to) >> 1
    if (timeS[middle]! < fromS) at = middle + 1
    else to = middle
  }
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (let i = Math.max(0, at - 1); i < timeS.length && timeS[i]! <= toS; i++) {
    low = Math.min(low, raw[i]!)
    high = Math.max(high, raw[i]!)
  }
  return high > low ? high - low : 0
}

import type { Reading, ReadingAnswer } from '../../shared/reading.ts'
import type { Finding } from '../../shared/review.ts'
import { conversionTo, convert } from '../../shared/units.ts'
import { figureText, readingText } from '../../shared/wording.ts'

/** A meter at the car may be off by this much of its reading, beside the log's own interval. Common practice, no source. */
const METER_SHARE = 0.1

/**
 * Readings taken at the car beside what the log says of the same place: by the finding's id, else by the place's words
 * ("joint 41"). A reading never lowers, hides or removes a finding: the log shows what it showed, and what was measured
 * may be another temperature, another load, or already mended.
 */
export function besideReadings(
  findings: readonly Finding[],
  readings: readonly Reading[],
): { findings: Finding[]; readings: ReadingAnswer[] } {
  const told = readings.map((reading): ReadingAnswer => {
    const at = findings.find((each) => isAt(reading, each))
    return { ...reading, finding: at?.id ?? null, says: at ? saysOf(reading, at) : 'noted' }
  })
  return {
    findings: findings.map((each) => {
      const own = told.filter(({ finding }) => finding === each.id)
      return own.length === 0
        ? each
        : { ...each, reason: [each.reason, ...own.map((one) => wordsOf(one, each))].join(' ') }
    }),
    readings: told,
  }
}

function isAt({ finding, place }: Reading, { id }: Finding): boolean {
  if (finding !== undefined) return finding === id
  const [, where] = id.split('/')
  return where !== undefined && plain(where) === plain(place)
}

const plain = (text: string): string => (text.toLowerCase().match(/[\p{L}\p{N}]+/gu) ?? []).join(' ')

function saysOf(
  { value, unit }: Reading,
  { value: read, low, high, unit: own }: Finding,
): ReadingAnswer['says'] {
  const by = value === 'open' || read === null ? null : conversionTo(unit, own)
  if (!by || typeof value !== 'number') return 'noted'
  const measured = convert(value, by)
  const off = METER_SHARE * Math.abs(measured)
  return measured >= (low ?? read!) - off && measured <= (high ?? read!) + off ? 'agrees' : 'disagrees'
}

function wordsOf(reading: ReadingAnswer, finding: Finding): string {
  const { finding: _, says, ...own } = reading
  const measured = `Measured at the car: ${readingText(own)}`
  if (says === 'noted') return `${measured}.`
  return says === 'agrees'
    ? `${measured}, which agrees with ${figureText(finding)} from the log.`
    : `${measured}, which does not agree with ${figureText(finding)} from the log: another place, another temperature or load, or mended since.`
}

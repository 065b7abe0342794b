import { DEED_WORDS, type Deed } from '../../shared/car-record.ts'
import { NOTICE } from '../../shared/review.ts'
import { numberText, readingText, SEVERITY_WORDS } from '../../shared/wording.ts'
import type { LedgerLine } from './ledger.ts'
import type { CarFile } from './open-car.ts'

export function carsText(cars: readonly string[]): string {
  return cars.length === 0 ? 'No car has a stored drive or a record yet.\n' : `${cars.join('\n')}\n`
}

/** A car's record for the terminal: the last drive's verdict first, whatever was done since. */
export function carText(file: CarFile, ledger: readonly LedgerLine[]): string {
  const last = file.drives.at(-1)
  const count = file.drives.length
  const lines = [
    `${file.car}${file.kit ? `, kit ${file.kit}` : ''}: ${count} stored drive${count === 1 ? '' : 's'}`,
  ]
  if (last) {
    for (const each of last.review.verdict.before_touching) lines.push(`Before touching the car: ${each}`)
    lines.push(`${last.summary.title}: ${last.review.verdict.sentence}`)
  }
  lines.push(...file.troubles, '')
  for (const line of ledger) lines.push(...lineText(line), '')
  if (ledger.length === 0) lines.push('No finding above a note in any stored drive.', '')
  const { readings, files, maps, vehicles, notes } = file.record
  for (const each of readings) lines.push(`reading: ${each.kind}, ${each.place}: ${readingText(each)}`)
  for (const each of files)
    lines.push(
      `file ${each.number}: ${each.name}${each.about ? `, ${each.about}` : ''} (${day(each.at)}, ${each.by})`,
    )
  for (const { map, at, by, about } of maps)
    lines.push(
      `map tried: from ${numberText(map.start_bar)} to ${numberText(map.full_bar)} bar, ${numberText(map.max_nm)} N·m${about ? `: ${about}` : ''} (${day(at)}, ${by})`,
    )
  for (const { at, by, text } of notes) lines.push(`note: ${text} (${day(at)}, ${by})`)
  if (vehicles.length > 0)
    lines.push(
      `vehicle file: ${vehicles.length} version${vehicles.length === 1 ? '' : 's'}, the last of ${day(vehicles.at(-1)!.at)}`,
    )
  lines.push(NOTICE)
  return `${lines.join('\n')}\n`
}

function lineText(line: LedgerLine): string[] {
  const { finding } = line
  const where = line.stands ? 'in the last drive' : 'not found in the last drive'
  return [
    `${SEVERITY_WORDS[finding.severity].word}: ${finding.headline} (${where}; ${DEED_WORDS[line.state]})`,
    `    ${line.id}`,
    ...line.deeds.map((deed) => `    ${deedText(deed)}`),
    ...line.retests.map(({ title, told }) => `    ${title}: ${told.sentence}`),
  ]
}

export const day = (moment: string): string => moment.slice(0, 10)

/** "mended on 2026-11-27 by R. Hale: bolt replaced (0.62 mΩ before, 0.08 mΩ after)". */
export function deedText({ state, at, by, reason, before, after }: Deed): string {
  const readings = [
    before ? `${numberText(before.value)} ${before.unit} before` : '',
    after ? `${numberText(after.value)} ${after.unit} after` : '',
  ].filter(Boolean)
  return `${DEED_WORDS[state]} on ${day(at)} by ${by}${reason ? `: ${reason}` : ''}${readings.length > 0 ? ` (${readings.join(', ')})` : ''}`
}

import { DEED_WORDS, type Deed } from '../../shared/car-record.ts'
import { type MapOutcome, VERDICT_WORDS } from '../../shared/map-outcome.ts'
import { NOTICE } from '../../shared/review.ts'
import { numberText, readingText, SEVERITY_WORDS, withInterval } from '../../shared/wording.ts'
import type { LedgerLine } from './ledger.ts'
import { mapsTried } from './maps-tried.ts'
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
  const { readings, files, vehicles, notes } = file.record
  for (const each of readings) lines.push(`reading: ${each.kind}, ${each.place}: ${readingText(each)}`)
  for (const each of files)
    lines.push(
      `file ${each.number}: ${each.name}${each.about ? `, ${each.about}` : ''} (${day(each.at)}, ${each.by})`,
    )
  const about = new Map(file.record.maps.map((each) => [each.at, each.about]))
  for (const each of mapsTried(file)) lines.push(...mapLines(each, about.get(each.at) ?? ''))
  for (const { at, by, text } of notes) lines.push(`note: ${text} (${day(at)}, ${by})`)
  if (vehicles.length > 0)
    lines.push(
      `vehicle file: ${vehicles.length} version${vehicles.length === 1 ? '' : 's'}, the last of ${day(vehicles.at(-1)!.at)}`,
    )
  lines.push(NOTICE)
  return `${lines.join('\n')}\n`
}

/** A map that was set, and at each breakpoint what was asked, predicted and measured. */
function mapLines({ map, at, by, title, points, figures, sentence }: MapOutcome, about: string): string[] {
  const told = (value: number | null, plusMinus: number | null): string =>
    value === null ? '\u2013' : withInterval(value, plusMinus, '')
  return [
    `map tried: from ${numberText(map.start_bar)} to ${numberText(map.full_bar)} bar, ${numberText(map.max_nm)} N·m${about ? `: ${about}` : ''} (${day(at)}, ${by})`,
    `    ${title ? `${title}: ` : ''}${sentence}`,
    ...(title
      ? points.map(
          (each) =>
            `    ${numberText(each.bar)} bar: ${numberText(each.before_nm)} N·m before, ${numberText(each.asked_nm)} asked, ${told(each.predicted_nm, each.predicted_nm_plus_minus)} predicted, ${told(each.measured_nm, each.measured_nm_plus_minus)} measured: ${VERDICT_WORDS[each.verdict]}${each.verdict === 'as-asked' ? '' : ` (${each.why})`}`,
        )
      : []),
    ...figures.map(
      (each) =>
        `    ${each.what}: ${numberText(each.before)} before, ${told(each.predicted, each.predicted_plus_minus)} predicted, ${told(each.measured, each.measured_plus_minus)} ${each.unit} measured`,
    ),
  ]
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

import type { Customer, Handover, Wishes } from '../../../shared/car-answer.ts'
import { DEED_WORDS } from '../../../shared/car-record.ts'
import { kindWords } from '../../../shared/kinds.ts'
import { type Finding, NOTICE } from '../../../shared/review.ts'
import { capital, lowerFirst, numberText, sentence, subjectText } from '../../../shared/wording.ts'
import { carAnswer } from '../answer.ts'
import { day } from '../car-text.ts'
import { type LedgerLine, ledgerOf } from '../ledger.ts'
import type { CarFile } from '../open-car.ts'
import { openQuestions, wishesOf } from './wishes.ts'

function head(file: CarFile) {
  const last = file.drives.at(-1)
  const of = last?.vehicle.record
  const days = file.drives.map(({ summary }) => day(summary.started_at ?? summary.added_at))
  const km = file.drives.map(({ summary }) => summary.distance_km)
  return {
    car: file.car,
    kit: file.kit,
    record: {
      registration: of?.registration ?? null,
      vin: of?.vin ?? null,
      customer: of?.customer ?? null,
      odometer_km: of?.odometer_km ?? null,
    },
    drives: file.drives.length,
    first: days[0] ?? null,
    last: days.at(-1) ?? null,
    km: km.some((each) => each !== null) ? km.reduce<number>((sum, each) => sum + (each ?? 0), 0) : null,
    verdict: last?.review.verdict ?? null,
    notice: NOTICE,
  }
}

/** The car's hand-over sheet: the last drive's verdict, every finding with what became of it, readings, what is open. */
export function handover(file: CarFile): Handover {
  const { readings, files, maps, notes } = file.record
  return {
    ...head(file),
    findings: carAnswer(file).findings,
    ...{ readings, files, maps, notes },
    not_assessed: openQuestions(file).map(({ question }) => question),
    sources: file.drives.flatMap(({ summary }) =>
      summary.files.map(({ name, sha256 }) => ({ title: summary.title, name, sha256 })),
    ),
  }
}

/** One page in plain words. What stands, stands: whatever was accepted or mended, a stop is told as the drive tells it. */
export function customer(file: CarFile): Customer {
  const ledger = ledgerOf(file)
  const last = file.drives.at(-1)
  return {
    ...head(file),
    stands: ledger
      .filter(({ stands, finding }) => stands && finding.severity !== 'note')
      .map((line) => `${plainly(line.finding)}${WEIGHT[line.finding.severity]}${became(line)}`),
    mended: ledger.filter(({ state }) => state === 'mended').map(mendedWords),
    accepted: ledger
      .filter(({ state }) => state === 'accepted')
      .map(
        ({ finding, deeds }) =>
          `${plainly(finding)}, accepted by ${deeds.at(-1)!.by} on ${day(deeds.at(-1)!.at)}: ${sentence(deeds.at(-1)!.reason)}`,
      ),
    unseen: (last?.summary.unseen ?? []).map((area) => AREA[area] ?? area),
    open: openQuestions(file).length,
  }
}

const WEIGHT: Readonly<Record<Finding['severity'], string>> = {
  stop: ': this speaks against handing the car over.',
  attention: ': to be looked at.',
  note: '.',
}

const AREA: Readonly<Record<string, string>> = {
  start: 'how the car starts',
  pedal: 'the accelerator pedal',
  pack: 'the battery',
}

const became = ({ state }: LedgerLine): string =>
  state === 'open' ? '' : ` ${capital(DEED_WORDS[state])}; the last drive shows it all the same.`

/** "A joint with too much resistance (joint read with cell 41, between cells 40 and 41)". */
const plainly = ({ kind, subject }: Finding): string =>
  `${capital(kindWords(kind))} (${subjectText(subject)})`

function mendedWords({ finding, deeds, retests, stands }: LedgerLine): string {
  const deed = deeds.at(-1)!
  const after = deed.after ? `, measured ${numberText(deed.after.value)} ${deed.after.unit} afterwards` : ''
  // how it reads now to two digits is the hand-over sheet's
  const told = retests.at(-1)?.told.sentence.split(' It reads ')[0]
  const later = told
    ? ` In a later drive: ${lowerFirst(sentence(told))}`
    : stands
      ? ' The last drive shows it still.'
      : ' No drive has looked for it since.'
  return `${plainly(finding)}: mended on ${day(deed.at)} by ${deed.by}${deed.reason ? ` (${deed.reason})` : ''}${after}.${later}`
}

/** What to log or drive next time: the few things that would close most of what no drive of the car has answered. */
export function wishes(file: CarFile): Wishes {
  return { ...head(file), wishes: wishesOf(file), open: openQuestions(file).length }
}

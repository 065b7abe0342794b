import type { CarAnswer } from '../../shared/car-answer.ts'
import { ledgerOf } from './ledger.ts'
import { mapsTried } from './maps-tried.ts'
import type { CarFile } from './open-car.ts'

/** A car's record as other programs and the page read it. */
export function carAnswer(file: CarFile): CarAnswer {
  const last = file.drives.at(-1)
  return {
    car: file.car,
    kit: file.kit,
    verdict: last ? { drive: last.summary.id, title: last.summary.title, ...last.review.verdict } : null,
    drives: file.drives.map(({ summary }) => summary),
    findings: ledgerOf(file).map((line) => ({
      id: line.id,
      state: line.state,
      stands: line.stands,
      severity: line.finding.severity,
      headline: line.finding.headline,
      next_step: line.finding.next_step,
      cautions: line.finding.cautions,
      seen_in: [...line.seen_in],
      deeds: [...line.deeds],
      retests: line.retests.map(({ drive, title, told }) => ({ drive, title, ...told })),
    })),
    maps: mapsTried(file),
    record: file.record,
    troubles: [...file.troubles],
  }
}

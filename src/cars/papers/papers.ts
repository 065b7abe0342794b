import { PAPERS, type PaperName } from '../../../shared/car-answer.ts'
import type { CarFile } from '../open-car.ts'
import { customer, handover, wishes } from './data.ts'
import { paperHtml } from './html.ts'

/** A paper of the car as data and as HTML; null for a name that is none. */
export function paperOf(file: CarFile, name: string): { data: unknown; html: string } | null {
  const known = PAPERS.find((each) => each === name)
  return known ? MADE[known](file) : null
}

const MADE: Readonly<Record<PaperName, (file: CarFile) => { data: unknown; html: string }>> = {
  handover(file) {
    const data = handover(file)
    return { data, html: paperHtml('handover', data) }
  },
  customer(file) {
    const data = customer(file)
    return { data, html: paperHtml('customer', data) }
  },
  wishes(file) {
    const data = wishes(file)
    return { data, html: paperHtml('wishes', data) }
  },
}

import { KINDS, type KindView } from '../../shared/kinds.ts'
import type { Finding } from '../../shared/review.ts'

const WORDS: Readonly<Record<KindView, string>> = {
  pack: 'See it in the pack',
  heat: 'See it in the heat view',
  start: 'See it in the start',
  charge: 'See it in the charge',
  pedal: 'See it at the pedal',
  brake: 'See it at the brakes',
  drive: 'See it over the drive',
  channels: 'See it in the channels',
  vehicle: 'See the vehicle file',
}

/** The view that looks at a finding's part of the car, what is chosen there, and the words of the way to it. */
export function viewOfFinding({ kind, subject }: Finding): { view: KindView; item: string; words: string } {
  const { view } = KINDS[kind]
  const isCell = ['joint', 'cell', 'cell-pair'].includes(subject.type)
  return {
    view,
    item: view === 'pack' && isCell && subject.index ? String(subject.index) : '',
    words: WORDS[view],
  }
}

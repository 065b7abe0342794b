import { KINDS, type KindView } from '../../shared/kinds.ts'
import type { Finding } from '../../shared/review.ts'
import type { View } from '../route.ts'

const WORDS: Readonly<Record<KindView, string>> = {
  pack: 'See it in the pack',
  heat: 'See it in the heat view',
  pedal: 'See it in the pedal view',
  brake: 'See it in the brake view',
  start: 'See it in the start chain',
  drive: 'See it over the drive',
  channels: 'See it in the channels',
  vehicle: 'See it in the vehicle file',
}

/** The view that looks at a finding's part of the car, what is chosen there, and the words of the way to it. */
export function viewOfFinding({ kind, subject }: Finding): { view: View; item: string; words: string } {
  const { view } = KINDS[kind]
  const isCell = ['joint', 'cell', 'cell-pair'].includes(subject.type)
  return {
    view,
    item: view === 'pack' && isCell && subject.index ? String(subject.index) : '',
    words: WORDS[view],
  }
}

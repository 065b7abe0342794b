import type { Finding } from '../../../shared/review.ts'
import { INSIDE_BOX } from '../../facts/cautions.ts'

/** So many errors of the cause a cell's fall must stand clear: 100 cells and their tails. */
export const CLEAR_OF_ERROR = 6

/** What a fall makes of the cell's charge, in a sentence; nothing on a curve so flat that voltage says nothing. */
export const chargeWords = (mvDay: number, voltPerPercent: number, curve: string): string =>
  ` By the ${curve} that is about ${(mvDay / 1e3 / voltPerPercent).toFixed(1)} % of its charge a day.`

/** What every `cell-self-discharge` says of a cell, whichever rests showed it. */
export const aboutDrain = (cell: number): Pick<Finding, 'next_step' | 'cautions'> => ({
  next_step: `Write down the voltage of cell ${cell} and its neighbours now and after a day with the car switched off. If it falls again, have qualified people look for what drains it; watch its temperature, and do not leave the car charging unattended.`,
  cautions: ['A cell below its minimum voltage or below 0 °C is not to be charged.', INSIDE_BOX],
})

/** A cell that stands above the others may have been bled. */
export const bled = (cell: number, against: string, decidedBy: string): Finding['rivals'] => [
  {
    kind: 'cell-imbalance',
    subject: { type: 'cell', index: cell },
    likelihood_ratio: null,
    for: 'the cell stands above the others, and a balancer bleeds such a cell',
    against,
    decided_by: decidedBy,
  },
]

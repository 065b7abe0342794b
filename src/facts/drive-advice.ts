import type { Rung } from '../../shared/review.ts'

/** What would answer a question, and what it asks of the car. Which rungs are open is decided in the review. */
export interface Advice {
  readonly text: string
  readonly rung: Rung
}

/** Key, pedal through its travel, brake press, logging: the car stands and is not ready. Always offered. */
export const standing = (text: string): Advice => ({ text, rung: 'standing' })

const IN_COMPANY = 'In a closed place, with a second person'

/**
 * What to do at walking pace, to see a first press of the brake and no more.
 * @param what to do, without a full stop
 */
export const atWalkingPace = (what: string): Advice => ({
  text: `${IN_COMPANY}, at walking pace: ${what}; stop at once if anything warns.`,
  rung: 'walking',
})

/**
 * What to drive to answer a question, as the safety page wants it: place, company, and when to stop.
 * @param what to do, without a full stop
 * @param until the end condition, as in "after three stops"
 */
export const toDrive = (what: string, until: string): Advice => ({
  text: `${IN_COMPANY}: ${what}; end ${until}, and at once if anything warns.`,
  rung: 'road',
})

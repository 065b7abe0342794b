/** Every advice on what to drive begins so; `withholdDriving` finds it by these words. */
export const TO_DRIVE = 'In a closed place, with a second person: '

/**
 * What to drive to answer a question, as the safety page wants it: place, company, and when to stop.
 * @param what to do, without a full stop
 * @param until the end condition, as in "after three stops"
 */
export function toDrive(what: string, until: string): string {
  return `${TO_DRIVE}${what}; end ${until}, and at once if anything warns.`
}

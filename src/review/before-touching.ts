import type { Kind } from '../../shared/kinds.ts'
import { TOUCH_V } from '../../shared/limits.ts'
import type { Finding } from '../../shared/review.ts'
import { numberText, sentence } from '../../shared/wording.ts'
import { DC_LINK, INSIDE_BOX, OUTSIDE_BOX, SELF_HEATING } from '../facts/cautions.ts'
import { channel, type Facts } from '../facts/facts.ts'

/** Readings this close to the log's end say how the link was left, s. Common practice, no source. */
const LAST_S = 5

/** How the logs leave the link, by those that hold it; null where the last readings are all below. */
export function linkAtEnd(parts: readonly Facts[]): string | null {
  const holding = parts.filter((facts) => channel(facts, 'link_voltage'))
  const ends = (holding.length > 0 ? holding : parts).map(linkOf)
  return ends.find((each) => each !== null) ?? null
}

/** How one log leaves the link: over 60 V, or not proved below it. */
function linkOf(facts: Facts): string | null {
  const link = channel(facts, 'link_voltage')
  const values: number[] = []
  if (link)
    for (let i = link.timeS.length - 1; i >= 0 && link.timeS[i]! >= facts.drive.durationS - LAST_S; i--)
      if (Number.isFinite(link.values[i]!)) values.push(Math.abs(link.values[i]!))
  const [last] = values
  if (last === undefined)
    return `The link is not proved down: the log does not show its voltage at its end. ${DC_LINK}`
  if (last > TOUCH_V) return `The link stood at ${numberText(last)} V when the log ended. ${DC_LINK}`
  return null
}

/** What each kind means for the hand at the car; only what says stop, or warms by itself, stands here. */
const HURTS: Partial<Readonly<Record<Kind, string>>> = {
  'contactor-welded': OUTSIDE_BOX,
  'isolation-low': OUTSIDE_BOX,
  'self-heating': SELF_HEATING,
  'cell-voltage-limit': INSIDE_BOX,
  'temperature-limit': INSIDE_BOX,
  'torque-unrequested': 'Keep clear of the driven wheels; key off before anything is touched.',
  'torque-against-selector': 'Keep clear of the driven wheels; key off before anything is touched.',
  'torque-without-pedal': 'Keep clear of the driven wheels; key off before anything is touched.',
}

/** What was found that can hurt the person at the car, each with its caution. */
export function hazards(findings: readonly Finding[]): string[] {
  return findings.flatMap((each) => {
    const caution = HURTS[each.kind]
    if (caution === undefined || each.severity !== 'stop') return []
    return [`${sentence(each.headline)} ${caution}`]
  })
}

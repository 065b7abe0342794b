import type { Channel } from '../../../shared/drive.ts'
import type { Conditioning } from '../conditioning.ts'
import { normalSelector } from './selector.ts'
import { levelSwitch } from './switch-levels.ts'
import { isSwitch, type Polarity, switchPolarity } from './switch-polarity.ts'

/** Brings every switch to 0/1, and the right way round where the drive, its words or a person fix which that is. */
export function conditionSwitches(work: Conditioning): void {
  const plain = new Set<string>()
  const lowDuty = new Set<string>()
  for (const each of [...work.channels.values()]) {
    const { channel, conversion, plainWords, neverPulledIn } = levelSwitch(each)
    if (plainWords) plain.add(each.id)
    if (neverPulledIn) lowDuty.add(each.id)
    if (channel !== each) work.put(channel, conversion)
  }
  const judge = switchPolarity(work.channels, work.durationS)
  for (const each of [...work.channels.values()].filter(isSwitch)) {
    const { polarity, why } = plain.has(each.id)
      ? PLAIN
      : lowDuty.has(each.id)
        ? judge(each, 'by the car alone')
        : orGiven(judge(each), each, work)
    if (polarity !== 'inverted') work.put({ ...each, polarity }, null)
    else {
      const values = each.values.map((value) => 1 - value)
      work.put({ ...each, polarity, values }, `inverted: ${why}`)
      work.assumptions.push(`Switch ${each.from} was turned round: ${why}.`)
    }
  }
}

const PLAIN: Polarity = { polarity: 'as-named', why: 'its values are plain words' }

/** Where nothing else fixes it: a person who maps a column to `interlock_closed` has said what 1 means. */
function orGiven(found: Polarity, channel: Channel, work: Conditioning): Polarity {
  if (found.polarity !== null || !work.given(channel)) return found
  return { polarity: 'as-named', why: 'the map or signal table says so' }
}

/** The selector as −1, 0, 1. */
export function conditionSelector(work: Conditioning): void {
  const selector = work.channels.get('selector')
  if (!selector) return
  const { channel, conversion } = normalSelector(selector, work.channels)
  work.put(channel, conversion)
  if (conversion) work.assumptions.push(`Selector codes of ${selector.from}: ${conversion}.`)
}

import type { Severity } from '../../../shared/review.ts'
import type { Facts } from '../../facts/facts.ts'
import { type HeldRun, heldPeak } from '../../math/held-runs.ts'
import { creepAndHold, stands } from './creep-and-hold.ts'
import { cruiseSpells } from './cruise-spells.ts'
import { type ReleasedTorque, releasedTorque } from './released-torque.ts'
import { runaway, withinDeclaredCreep } from './runaway.ts'

/** A run of torque with the pedal released, judged. */
export interface JudgedRun {
  readonly run: HeldRun
  /** Largest torque held past the time limit, N·m. */
  readonly heldNm: number
  readonly severity: Severity
  /** What the log proves, as a subject of a sentence; empty where it proves nothing. */
  readonly explained: string
  readonly why: string
}

/** Each run: stop by `runaway`, a note where the log proves what did it, else attention. Declared creep is left out. */
export function judgedRuns(facts: Facts): readonly JudgedRun[] {
  const all = facts.once(releasedTorque)
  if ('why' in all) return []
  return all.runs.flatMap((run): JudgedRun[] => {
    const stop = runaway(facts, run)
    if (!stop && withinDeclaredCreep(facts, all, run)) return []
    const seconds = facts.limits.releasedTorqueS.stop ?? Number.NaN
    const inside = (of: Float64Array): Float64Array => of.subarray(run.first, run.last + 1)
    const heldNm = heldPeak(inside(all.data.timeS), inside(all.counted), seconds)?.value ?? run.peak
    if (stop) return [{ run, heldNm, severity: 'stop', explained: '', why: stop.why }]
    const { left, names, whys } = explain(facts, all, run)
    const open = heldPeak(inside(all.data.timeS), left, seconds)
    const unproved = open !== null && open.value > (facts.limits.releasedTorqueNm.stop ?? Number.NaN)
    return [
      unproved
        ? { run, heldNm: open.value, severity: 'attention', explained: '', why: unlikely(all, run) }
        : { run, heldNm, severity: 'note', explained: names.join(' and '), why: whys.join('; ') },
    ]
  })
}

function explain(
  facts: Facts,
  all: ReleasedTorque,
  run: HeldRun,
): { left: Float64Array; names: string[]; whys: string[] } {
  const spells = facts.once(cruiseSpells)
  const { holds, creeps, creepWhy } = facts.once(creepAndHold)
  const left = new Float64Array(run.last - run.first + 1)
  const names = new Set<string>()
  const whys = new Set<string>()
  const say = (name: string, why: string): void => {
    names.add(name)
    whys.add(why)
  }
  for (let i = run.first; i <= run.last; i++) {
    const braked = all.brake?.[i] === 1
    const spell = spells.find((each) => i >= each.first && i <= each.last)
    if (!braked && all.cruiseOn?.[i] === 1) say('cruise control', 'cruise control is logged as on')
    else if (!braked && all.holdOn?.[i] === 1) say('creep or hill hold', 'creep or hill hold is logged as on')
    else if (spell)
      say('cruise control', `the speed was held at ${spell.kmh.toFixed(0)} km/h and ${spell.why}`)
    else if (holds[i] === 1) say('hill hold', 'the car stood still and the brake was not pressed')
    else if (creeps[i] === 1) say('creep', creepWhy ?? '')
    else left[i - run.first] = all.counted[i]!
  }
  return { left, names: [...names], whys: [...whys] }
}

/** What speaks against the harmless readings, for the reader. */
function unlikely(all: ReleasedTorque, run: HeldRun): string {
  for (let i = run.first; i <= run.last; i++)
    if (all.brake?.[i] === 1)
      return stands(all, i) ? 'the brake was pressed, the car standing' : 'the brake was pressed'
  return ''
}

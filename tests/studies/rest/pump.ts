import { contactorState } from '../../../src/car/contactor-state.ts'
import { gatherFacts } from '../../../src/review/run-all.ts'
import { Random } from '../../simulator/random.ts'
import { draw } from '../two-models.ts'
import type { RestFamily } from './family.ts'
import { type Laid, withLaid } from './overlay.ts'

/**
 * A coolant pump told by a switch or a duty that is turned up and down at random, and the flow it makes: in proportion,
 * or with a threshold at 15 %, up to 3 s late, coasting down, a paddle that reads nothing below 1.5 l/min; in one of five
 * healthy duties the other way round. Ill: nothing flows (or under a tenth) from a moment on, or for 20 s and more.
 */
export const pump: RestFamily = {
  name: 'pump that moves nothing',
  asks: ['coolant pump', 'cooling order'],
  draw(model, seed, ill) {
    const made = draw({ model, seed, durationS: [170, 280] })
    const random = new Random(seed).fork(`pump ${model} ${ill}`)
    const [from, to] = gatherFacts(made.drive, made.vehicle)
      .once(contactorState)
      .of('closed')
      .reduce((a, b) => (b[1] - b[0] > a[1] - a[0] ? b : a))
    const bySwitch = random.chance(0.4)
    const fullLitres = random.between(5, 18)
    const threshold = random.chance(0.5) ? 15 : 0
    const lagS = random.between(0.3, 3)
    const levels: { at: number; percent: number }[] = []
    for (let at = from + random.between(0, 5); at < to; at += random.between(15, 60))
      levels.push({
        at,
        percent: bySwitch ? (random.chance(0.75) ? 100 : 0) : random.pick([0, 20, 45, 70, 100]),
      })
    const failsS = random.chance(0.3) ? from : from + (to - from) * random.between(0.3, 0.6)
    // a fault while the pump is off shows nothing: it is told to run for half a minute from then on
    const after = levels.filter(({ at }) => !ill || at < failsS || at > failsS + 32)
    if (ill) after.push({ at: failsS, percent: 100 })
    levels.splice(0, levels.length, ...after.sort((a, b) => a.at - b.at))
    // every log has some time at full command
    levels[0] = { at: levels[0]!.at, percent: 100 }
    const told = (t: number): number =>
      t >= to ? 0 : (levels.filter(({ at }) => at <= t).at(-1)?.percent ?? 0)
    const on = (t: number): number => (told(t) >= 40 ? 1 : 0)
    const steps = Array.from({ length: Math.floor(made.drive.durationS) * 5 }, (_, i) => i / 5)
    const wants = steps.map((t) =>
      told(t) > threshold ? (fullLitres * (told(t) - threshold)) / (100 - threshold) : 0,
    )
    const endsS = random.chance(0.5) ? to : Math.min(to, failsS + random.between(25, 70))
    const rest = random.chance(0.3) ? 0.08 : 0
    const flow = new Float64Array(steps.length)
    let state = 0
    steps.forEach((t, i) => {
      const aim = ill && t >= failsS && t < endsS ? rest * wants[i]! : wants[i]!
      state += (aim - state) * Math.min(1, 0.2 / lagS)
      flow[i] = state < 1.5 ? 0 : state
    })
    // longest stretch that a sound pump would have made flow in, and this one did not; from 6 s after the command
    let worst = 0
    let run = 0
    let told6 = 0
    steps.forEach((t, i) => {
      told6 = told(t) >= 40 ? told6 + 0.2 : 0
      run = told6 > 6 && flow[i]! < 0.3 * wants[i]! ? run + 0.2 : 0
      worst = Math.max(worst, run)
    })
    const turned = !ill && !bySwitch && random.chance(0.2)
    const laid: Laid[] = [
      {
        id: 'coolant_flow',
        rateHz: random.pick([1, 2, 5]),
        step: 0.1,
        noise: 0.15,
        at: (t) => Math.max(0, flow[Math.min(flow.length - 1, Math.round(t * 5))]!),
      },
      bySwitch
        ? { id: 'coolant_pump', rateHz: 5, at: on }
        : { id: 'pump_duty', rateHz: 2, step: 1, at: (t) => (turned ? 100 - told(t) : told(t)) },
    ]
    return {
      drive: withLaid(made, laid, random, ['coolant_pump', 'pump_duty']),
      vehicle: made.vehicle,
      planted: ill ? { kind: 'pump-without-flow', name: null, value: worst } : null,
      words: `${bySwitch ? 'switch' : 'duty'}, ${fullLitres.toFixed(0)} l/min, ${ill ? `nothing from ${failsS.toFixed(0)} to ${endsS.toFixed(0)} s, ${worst.toFixed(0)} s seen` : turned ? 'the other way round' : 'healthy'}`,
    }
  },
}

import { contactorState } from '../../../src/car/contactor-state.ts'
import { within } from '../../../src/math/spans.ts'
import { gatherFacts } from '../../../src/review/run-all.ts'
import { Random } from '../../simulator/random.ts'
import { draw } from '../two-models.ts'
import type { RestFamily } from './family.ts'
import { type Laid, withLaid } from './overlay.ts'

/**
 * A heater or cooler asked on and off at random, with a thermostat of its own that rests at times, run-up and run-down of up
 * to four seconds; the request on or off, or in watts, in one of four logs the other way round (healthy ones only).
 * Ill: after one fall of its request it goes on with a part of its power, at least 20 s.
 */
export const heater: RestFamily = {
  name: 'heater or cooler that stays on',
  asks: ['heater and cooler'],
  draw(model, seed, ill) {
    const made = draw({ model, seed, durationS: [150, 240] })
    const random = new Random(seed).fork(`heater ${model} ${ill}`)
    const load = random.pick(['heater', 'cooler'] as const)
    const closed = gatherFacts(made.drive, made.vehicle).once(contactorState).of('closed')
    const [from, to] = closed.reduce((a, b) => (b[1] - b[0] > a[1] - a[0] ? b : a))
    const full = random.between(800, 5000)
    const turns: { on: number; off: number; watts: number }[] = []
    for (let at = from + random.between(3, 15); at < to - 60; ) {
      const off = at + random.between(12, 40)
      turns.push({ on: at, off, watts: full * random.pick([0.4, 0.7, 1, 1]) })
      at = off + random.between(22, 50)
    }
    const stuckAt = ill ? random.whole(0, turns.length - 1) : -1
    const stays = {
      watts: (turns[stuckAt]?.watts ?? 0) * random.pick([0.5, 0.75, 1, 1]),
      s: random.between(21, 60),
    }
    const next = turns[stuckAt + 1]?.on ?? to
    const until = ill ? Math.min(next, turns[stuckAt]!.off + stays.s) : 0
    const ramp = random.between(0.3, 4)
    const rests = random.chance(0.5) ? random.between(4, 11) : 0
    const askedAt = (t: number): number => turns.find(({ on, off }) => t >= on && t < off)?.watts ?? 0
    const watts = (t: number): number => {
      if (!within([[from, to]], t)) return 0
      const stuck = ill && t >= turns[stuckAt]!.off && t < until
      if (stuck) return stays.watts
      const before = turns.filter(({ on }) => on <= t).at(-1)
      if (!before) return 0
      if (t >= before.off)
        return (
          before.watts * Math.max(0, 1 - (t - before.off) / ramp) * (ill && before === turns[stuckAt] ? 0 : 1)
        )
      const resting = rests > 0 && (t - before.on) % (3 * rests) > 2 * rests
      return resting ? 0 : before.watts * Math.min(1, (t - before.on) / ramp)
    }
    const amounts = random.chance(0.5)
    const turned = !ill && random.chance(0.25)
    const request = (t: number): number => (amounts ? askedAt(t) : askedAt(t) > 0 !== turned ? 1 : 0)
    const laid: Laid[] = [
      {
        id: `${load}_power`,
        rateHz: random.pick([1, 2, 5, 10]),
        step: 10,
        noise: random.between(2, 0.02 * full),
        offset: random.between(-20, 40),
        at: watts,
      },
      { id: `${load}_request`, rateHz: random.pick([2, 5, 10]), at: request },
    ]
    return {
      drive: withLaid(made, laid, random),
      vehicle: made.vehicle,
      planted: ill ? { kind: 'load-stays-on', name: `cabin ${load}`, value: stays.watts } : null,
      words: `${load} ${full.toFixed(0)} W, request in ${amounts ? 'W' : 'on or off'}, ${ill ? `stays at ${stays.watts.toFixed(0)} W for ${(until - turns[stuckAt]!.off).toFixed(0)} s` : turned ? 'request the other way round' : 'healthy'}`,
    }
  },
}

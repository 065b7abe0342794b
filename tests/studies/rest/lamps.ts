import { spansWhere } from '../../../src/math/spans.ts'
import { heldAt } from '../../../src/samples/on-one-clock.ts'
import { Random } from '../../simulator/random.ts'
import { draw } from '../two-models.ts'
import type { RestFamily } from './family.ts'
import { type Laid, withLaid } from './overlay.ts'

/**
 * The simulated car's own brake lamp read anew, 0 to 0.4 s late; logged the other way round in one of four drives. Ill:
 * dark in some presses, dark for good from a moment on, lit for good (stuck) after a press, or flickering in every press.
 */
export const lampFamily: RestFamily = {
  name: 'lamp that does not follow',
  asks: ['lamps', 'stop lamp'],
  draw(model, seed, ill) {
    const made = draw({ model, seed, durationS: [170, 280] })
    const random = new Random(seed).fork(`lamp ${model} ${ill}`)
    const lamp = made.drive.channels.get('brake_lamp')!
    const contact = made.drive.channels.get('brake_switch')!
    const presses = spansWhere(contact.timeS, (i) => contact.values[i] === 1).filter(
      ([from, to]) => to - from > 1.6,
    )
    const way = random.pick(['misses', 'dies', 'sticks', 'flickers'] as const)
    const missed = presses.filter(([from, to]) => to - from > 2.5)
    const dead = presses[Math.floor(presses.length * random.between(0.4, 0.7))]?.[0] ?? 0
    const stuck = presses[Math.floor(presses.length * random.between(0.3, 0.6))] ?? [0, 0]
    const stuckFor = random.between(8, 40)
    const lateS = random.between(0, 0.4)
    const periodS = random.between(0.5, 0.9)
    const turned = random.chance(0.25)
    const lit = (t: number): number => {
      const own = heldAt(lamp, [t - lateS])[0]! === 1 ? 1 : 0
      if (!ill) return own
      if (way === 'misses')
        return missed.some(([from, to], k) => k % 2 === 0 && t >= from && t < to) ? 0 : own
      if (way === 'dies') return t >= dead ? 0 : own
      if (way === 'sticks') return t >= stuck[1]! - 0.2 && t < stuck[1]! + stuckFor ? 1 : own
      return own === 1 && t % periodS > 0.6 * periodS ? 0 : own
    }
    const laid: Laid[] = [
      { id: 'brake_lamp', rateHz: random.pick([10, 10, 20]), at: (t) => (turned ? 1 - lit(t) : lit(t)) },
    ]
    // longest press that stays dark, or the time that it burns without cause, from the truth of the switch
    const size =
      way === 'misses'
        ? Math.max(...missed.filter((_, k) => k % 2 === 0).map(([from, to]) => to - from))
        : null
    return {
      drive: withLaid(made, laid, random),
      vehicle: made.vehicle,
      planted: ill
        ? { kind: 'lamp-disagrees', name: 'brake', value: Number.isFinite(size) ? size : null }
        : null,
      words: `${ill ? way : 'healthy'}, ${lateS.toFixed(1)} s late${turned ? ', the other way round' : ''}, ${presses.length} presses`,
    }
  },
}

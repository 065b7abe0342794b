import { contactorState } from '../../../src/car/contactor-state.ts'
import { median } from '../../../src/math/stats.ts'
import { gatherFacts } from '../../../src/review/run-all.ts'
import { Random } from '../../simulator/random.ts'
import { draw } from '../two-models.ts'
import type { RestCase, RestFamily } from './family.ts'
import { type Laid, withLaid } from './overlay.ts'

/** What a family of 12 V systems draws: a battery behind its resistance, a converter, loads that come and go. */
export interface LvTruth {
  readonly ohm: number
  readonly volts: (timeS: number) => number
}

/**
 * A 12 V system of our own on the simulated car: rest voltage of the chemistry (lead 12.2 to 12.8 V, LFP 13.1 to 13.35 V:
 * common practice, no source), 5 to 25 mΩ, loads that switch every few seconds, a converter set to 13.7 to 14.4 V that
 * takes over up to 3 s after the contactors, and gives at most its limit. Ill: it gives nothing from its start, or from
 * a moment in the drive on. LFP is stated in the vehicle file: without it such a battery hides its converter.
 */
export function converterCase(
  model: 'first' | 'second',
  seed: number,
  ill: boolean,
): RestCase & { lv: LvTruth } {
  const made = draw({ model, seed, durationS: [170, 260] })
  const random = new Random(seed).fork(`converter ${model} ${ill}`)
  const facts = gatherFacts(made.drive, made.vehicle)
  const [from, to] = facts
    .once(contactorState)
    .of('closed')
    .reduce((a, b) => (b[1] - b[0] > a[1] - a[0] ? b : a))
  const driving = made.drive.segments.filter(({ type }) => type === 'driving').map(({ span_s }) => span_s)
  const key = made.drive.channels.get('key_on')!
  const keyOnS = key.timeS[key.values.indexOf(1)] ?? 0
  const lfp = random.chance(0.25)
  const restV = lfp ? random.between(13.1, 13.35) : random.between(12.2, 12.8)
  const ohm = random.between(0.005, 0.025)
  const setV = random.between(13.7, 14.4)
  const takesS = random.between(0.2, 3)
  const offFromS = ill ? (random.chance(0.5) ? 0 : from + random.between(20, 45)) : Number.POSITIVE_INFINITY
  const loads = Array.from({ length: 4 }, () => ({
    amps: random.between(3, 12),
    onS: random.between(4, 15),
    offS: random.between(4, 15),
    phaseS: random.between(0, 15),
  }))
  const baseA = random.between(4, 9)
  const loadA = (t: number): number =>
    t < keyOnS
      ? 0.4
      : baseA +
        loads.reduce(
          (sum, { amps, onS, offS, phaseS }) => sum + ((t + phaseS) % (onS + offS) < onS ? amps : 0),
          0,
        )
  const runs = (t: number): boolean => t >= from + takesS && t < to && t < offFromS
  // out of the battery
  const batteryA = (t: number): number => (runs(t) ? -Math.min(12, (setV - restV) / 0.1) : loadA(t))
  const lowers = (t: number): number => 0.02 * Math.min(1, Math.max(0, t - Math.min(from, offFromS)) / 300)
  const volts = (t: number): number =>
    runs(t) ? setV - 0.003 * loadA(t) : restV - lowers(t) - ohm * batteryA(t)
  const sign = random.pick([1, -1])
  const laid: Laid[] = [
    { id: 'lv_voltage', rateHz: random.pick([2, 5, 10]), step: 0.01, noise: 0.01, at: volts },
    { id: 'lv_current', rateHz: 10, step: 0.1, noise: 0.1, at: (t) => sign * batteryA(t) },
    ...(random.chance(0.6)
      ? [
          {
            id: 'dcdc_current',
            rateHz: 2,
            step: 0.1,
            noise: 0.1,
            at: (t: number) => (runs(t) ? loadA(t) - batteryA(t) : 0),
          },
        ]
      : []),
  ]
  const judged = Array.from({ length: 400 }, (_, i) => from + 20 + ((to - from - 20) * i) / 400).filter(
    (t) => t >= offFromS && driving.some(([start, end]) => t >= start && t < end),
  )
  return {
    drive: withLaid(made, laid, random, ['dcdc_current']),
    vehicle: { ...made.vehicle, lv_chemistry: lfp ? 'lfp' : 'lead' },
    needsFile: lfp && ill,
    planted: ill ? { kind: 'dcdc-not-charging', name: null, value: median(judged.map(volts)) } : null,
    words: `${lfp ? 'LFP' : 'lead'} ${restV.toFixed(1)} V, ${(1e3 * ohm).toFixed(0)} mΩ, converter ${ill ? `off from ${offFromS.toFixed(0)} s` : `${setV.toFixed(1)} V`}`,
    lv: { ohm, volts },
  }
}

export const converter: RestFamily = {
  name: 'converter that does not charge',
  asks: ['12 V supply', '12 V battery', 'pull-in dips'],
  draw: converterCase,
}

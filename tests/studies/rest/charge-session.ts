import type { ChargeSession } from '../../../shared/review.ts'
import { STOP_WORDS } from '../../../src/charge/models/sessions.ts'
import type { Answer } from '../../../src/facts/answer.ts'
import { chargeDrive } from '../../simulator/charge/charge-log.ts'
import {
  BROKEN,
  type Broken,
  type ChargePlan,
  type ChargeTruth,
  runCharge,
  SLOWED,
} from '../../simulator/charge/charge-world.ts'
import { type ChargeCase, randomCharge } from '../../simulator/charge/random-charge.ts'
import type { RestFamily } from './family.ts'

type Slowed = (typeof SLOWED)[number]

/**
 * A charge with current: held back by charger, pilot or cable, or broken off by each cause, a family each. Healthy: a
 * charge as asked, one up to the top, one that the driver ends. Energies are held to the truth in all of them.
 */
export const chargeSession: readonly RestFamily[] = [
  ...SLOWED.map((by) =>
    family(
      `charge-slow-${by}`,
      (made) => slowed(made, by),
      (session) => holderWrong(session, by),
    ),
  ),
  ...BROKEN.map((by) =>
    family(
      `charge-broken-${by}`,
      (made) => broken(made, by),
      (session) => firstWrong(session, by),
    ),
  ),
]

const HEALTHY = ['as asked', 'to the top', 'ended by the driver'] as const

function family(
  name: string,
  fault: (made: ChargeCase) => ChargePlan,
  wrong: (session: ChargeSession) => string | null,
): RestFamily {
  return {
    name,
    asks: ['charge start', 'charge slow', 'charge interrupted', 'isolation while plugged in', 'isolation'],
    draw(model, seed, ill) {
      const drawn = randomCharge(model, 1000 * name.length + seed, [1200, 2600])
      const { car, style, random } = drawn
      const healthy = HEALTHY[seed % HEALTHY.length]!
      const top = !ill && healthy === 'to the top'
      const plan = {
        ...drawn.plan,
        startSoc: top ? random.between(0.93, 0.96) : random.between(0.3, 0.75),
        ...(!ill && healthy === 'ended by the driver' ? { endedS: drawn.plan.durationS - 90 } : {}),
      }
      const { world, truth } = runCharge(car, ill ? fault({ ...drawn, plan }) : plan, random.fork('run'))
      return {
        drive: chargeDrive(world, car.vehicle, style, random.fork('log')),
        vehicle: car.vehicle,
        planted: !ill
          ? null
          : truth.broke
            ? { kind: 'charge-interrupted', name: null, value: truth.broke.lastsS }
            : { kind: 'charge-slow', name: null, value: truth.slowPercent },
        also: (answers) => {
          const sessions = sessionsOf(answers)
          if (sessions.length !== 1) return `${sessions.length} sessions`
          return energyWrong(sessions[0]!, truth) ?? (ill ? wrong(sessions[0]!) : null)
        },
        words: ill ? name : healthy,
      }
    },
  }
}

const sessionsOf = (answers: readonly Answer[]): readonly ChargeSession[] =>
  answers.flatMap(({ sections }) => sections?.charge_sessions ?? [])

/** What the thing itself allows is what holds the charge back. */
function slowed({ car, plan, random }: ChargeCase, by: Slowed): ChargePlan {
  const share = random.between(0.45, 0.85)
  const fromS = random.between(0.1, 0.5) * plan.durationS
  const toS = Math.min(plan.durationS, fromS + random.between(0.3, 0.6) * plan.durationS)
  const packV = car.cells * car.restV(plan.startSoc)
  const need = plan.askA * packV
  const slow = { by, fromS, toS, share }
  if (by === 'charger') return { ...plan, chargerW: need, slow }
  if (by === 'cable') {
    const askA = (13 * plan.mainsV * plan.efficiency) / share / packV
    return { ...plan, cableOhm: 1500, dutyPercent: 53.3, chargerW: 30_000, askA }
  }
  const duty = Math.max(12, need / plan.efficiency / plan.mainsV / 0.6)
  return { ...plan, dutyPercent: duty, chargerW: 3 * need, slow }
}

const broken = ({ plan, random }: ChargeCase, by: Broken): ChargePlan => ({
  ...plan,
  broken: {
    by,
    atS: Math.round(random.between(0.2, 0.6) * plan.durationS),
    lastsS: Math.round(random.between(30, 240)),
  },
})

/** Energies outside their intervals, with half a percent for the grid. */
function energyWrong(session: ChargeSession, truth: ChargeTruth): string | null {
  const { into_wh, into_wh_plus_minus, wall_wh, wall_wh_plus_minus } = session
  const off = (value: number | null, half: number | null, meant: number): boolean =>
    value === null || Math.abs(value - meant) > half! + 0.005 * meant
  if (off(into_wh, into_wh_plus_minus, truth.intoWh))
    return `into the pack ${into_wh?.toFixed(0)} ± ${into_wh_plus_minus?.toFixed(0)} for ${truth.intoWh.toFixed(0)} Wh`
  return off(wall_wh, wall_wh_plus_minus, truth.wallWh)
    ? `from the wall ${wall_wh?.toFixed(0)} for ${truth.wallWh.toFixed(0)} Wh`
    : null
}

function firstWrong({ stops }: ChargeSession, by: Broken): string | null {
  const stop = stops.find(({ kind }) => kind !== 'ended')
  return stop?.first === STOP_WORDS[by] ? null : `changed first: ${stop?.first}`
}

function holderWrong({ held_s }: ChargeSession, by: Slowed): string | null {
  const held = held_s.filter((each) => (SLOWED as readonly string[]).includes(each.by))
  return held[0]?.by === by
    ? null
    : `held back by ${held.map((each) => `${each.by} ${each.time_s.toFixed(0)} s`).join(', ')}`
}

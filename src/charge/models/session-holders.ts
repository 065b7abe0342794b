import type { Holder } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { cellLimits } from '../../car/cell-limits.ts'
import type { Facts } from '../../facts/facts.ts'
import { quantile } from '../../math/stats.ts'
import type { SessionSeries } from './session-series.ts'
import { FLOWS_A } from './session-spans.ts'

/** Under this share of what was asked the charge is slower than asked (the contract). */
export const SLOW_SHARE = 0.93
/** The voltage stands at what was asked within so much: constant voltage. Common practice, no source. */
const AT_VOLTAGE = 0.995
/** The mains current stands at what pilot or cable allow within so much. Common practice, no source. */
const AT_MAINS = 0.9
/** Without a mains current: the pack's power through a usual charger. Common practice, no source. */
const USUAL_EFFICIENCY = 0.92
const USUAL_MAINS_V = 230
const NEAR_MAINS = [0.88, 1.12] as const
/** This near its limits a battery unit takes its request back. Common practice, no source. */
const NEAR_CELL_V = 0.06
const NEAR_HOT_C = 12
const NEAR_COLD_C = 12
/** Usual highest cell temperature where the vehicle file gives none, °C. Common practice, no source. */
const MAX_C = 55

/** At each moment of the session, who held the current. Model: docstring of the question (`charge-slow.ts`). */
export function holders(facts: Facts, series: SessionSeries): Holder[] {
  const { delivered, requestA, timeS } = series
  const limits = cellLimits(facts)
  const maxC = facts.vehicle.pack?.cell_temperature_max ?? MAX_C
  const top = quantile(
    requestA.filter((a) => a > 0),
    0.95,
  )
  const batteryUnit = (i: number): Holder => {
    if (series.highest[i]! > limits.maxV - NEAR_CELL_V) return 'highest-cell'
    if (series.hottest[i]! > maxC - NEAR_HOT_C) return 'warmest'
    if (series.coldest[i]! < limits.minChargeC + NEAR_COLD_C) return 'coldest'
    return 'battery-unit'
  }
  return Array.from(timeS, (_, i): Holder => {
    const asked = requestA[i]!
    const given = delivered[i]!
    if (!Number.isFinite(given)) return 'not-told'
    if (given < FLOWS_A) return 'pause'
    if (!Number.isFinite(asked)) return atVoltage(series, i) ? 'voltage' : (atMains(series, i) ?? 'not-told')
    if (given + series.unseenA >= SLOW_SHARE * asked)
      return asked < SLOW_SHARE * top ? batteryUnit(i) : 'as-asked'
    return atVoltage(series, i) ? 'voltage' : (atMains(series, i) ?? 'charger')
  })
}

function atVoltage({ requestV, chargerV, volts }: SessionSeries, i: number): boolean {
  const level = Number.isFinite(chargerV[i]!) ? chargerV[i]! : volts[i]!
  return level >= AT_VOLTAGE * requestV[i]!
}

/** Pilot or cable, whichever allows less, where the mains current stands at it. */
function atMains(series: SessionSeries, i: number): 'pilot' | 'cable' | null {
  const { pilotA, cableA, mainsA, mainsV } = series
  const pilot = pilotA[i]!
  const cable = cableA[i]!
  const allowed = Math.min(
    Number.isFinite(pilot) ? pilot : Infinity,
    Number.isFinite(cable) ? cable : Infinity,
  )
  if (!Number.isFinite(allowed)) return null
  const by = cable < pilot || !Number.isFinite(pilot) ? 'cable' : 'pilot'
  if (Number.isFinite(mainsA[i]!)) return mainsA[i]! >= AT_MAINS * allowed ? by : null
  const volt = Number.isFinite(mainsV[i]!) ? mainsV[i]! : USUAL_MAINS_V
  const watts =
    series.delivered[i]! * (Number.isFinite(series.volts[i]!) ? series.volts[i]! : series.chargerV[i]!)
  const share = watts / USUAL_EFFICIENCY / volt / allowed
  const near = (phases: number): boolean => share / phases > NEAR_MAINS[0] && share / phases < NEAR_MAINS[1]
  return near(1) || near(3) ? by : null
}

export interface HeldStretch {
  readonly by: Holder
  readonly span_s: Span
}

/** Shorter stretches belong to those before them, s. */
const SHORTEST_S = 20

/** The holders as stretches; flickers go to their neighbour before. */
export function heldStretches({ timeS, stepS }: SessionSeries, by: readonly Holder[]): HeldStretch[] {
  const runs: { by: Holder; from: number; to: number }[] = []
  for (let i = 0; i < by.length; i++) {
    const last = runs.at(-1)
    if (last && last.by === by[i]) last.to = timeS[i]! + stepS
    else runs.push({ by: by[i]!, from: timeS[i]!, to: timeS[i]! + stepS })
  }
  const least = Math.max(SHORTEST_S, 3 * stepS)
  const kept: typeof runs = []
  for (const run of runs) {
    const last = kept.at(-1)
    if (last && (run.by === last.by || (run.to - run.from < least && run.by !== 'pause'))) last.to = run.to
    else kept.push({ ...run })
  }
  return kept.map(({ by: who, from, to }) => ({ by: who, span_s: [from, to] }))
}

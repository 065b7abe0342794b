import { UNLEARNED_ZERO_A } from '../../car/pack-current.ts'
import type { SessionSeries } from './session-series.ts'

/** Scale of a voltage reading, and of a charger's and a wall meter's current, %. Common practice, no source. */
const VOLT_PERCENT = 0.5
const METER_PERCENT = 2
/** A charger gives between these shares of what it takes. Common practice, no source. */
const EFFICIENT = [0.6, 0.99] as const

export interface SessionEnergy {
  readonly intoWh: Sum | null
  readonly intoAh: Sum | null
  readonly chargerWh: Sum | null
  readonly wallWh: Sum | null
  readonly wallPhases: number | null
  readonly efficiency: Sum | null
  readonly notes: readonly string[]
}

export interface Sum {
  readonly value: number
  readonly plusMinus: number
}

/**
 * Energy and charge into the pack (∫ I · U dt), out of the charger, from the wall; the charger's efficiency.
 *
 * A mains current is that of one phase: where one phase alone would give more than came in, three are tried, and said.
 * Null where a channel is missing, or is silent for over a tenth of the session.
 */
export function sessionEnergy(series: SessionSeries): SessionEnergy {
  const { packA, volts, chargerA, chargerV, mainsA, mainsV, stepS, current, span } = series
  const hours = (span[1] - span[0]) / 3600
  const pack = sum(stepS, (i) => packA[i]! * volts[i]!, packA.length)
  const charge = sum(stepS, (i) => packA[i]!, packA.length)
  const zeroA = current?.zeroPlusMinusA ?? UNLEARNED_ZERO_A
  const gain = (current?.gainPercent ?? METER_PERCENT) / 100
  const meanV = charge && pack && charge > 0 ? pack / charge : 0
  const intoWh =
    pack === null
      ? null
      : { value: pack, plusMinus: Math.hypot((gain + VOLT_PERCENT / 100) * pack, zeroA * meanV * hours) }
  const intoAh =
    charge === null ? null : { value: charge, plusMinus: Math.hypot(gain * charge, zeroA * hours) }
  const metered = (value: number | null): Sum | null =>
    value === null ? null : { value, plusMinus: (Math.hypot(METER_PERCENT, VOLT_PERCENT) / 100) * value }
  const dcV = chargerV.some(Number.isFinite) ? chargerV : volts
  const chargerWh = metered(sum(stepS, (i) => chargerA[i]! * dcV[i]!, chargerA.length))
  const onePhase = sum(stepS, (i) => mainsA[i]! * mainsV[i]!, mainsA.length)
  const out = chargerWh ?? intoWh
  const notes: string[] = []
  let phases: number | null = null
  if (onePhase !== null && onePhase > 0 && out !== null) {
    phases = [1, 3].find((n) => fits(out.value / (n * onePhase))) ?? null
    if (phases === 3) notes.push('the mains current is taken as that of each of three phases')
    if (phases === null)
      notes.push('the mains current fits neither one phase nor three: the wall’s energy is left out')
  }
  const wallWh = phases === null ? null : metered(onePhase! * phases)
  return {
    intoWh,
    intoAh,
    chargerWh,
    wallWh,
    wallPhases: phases,
    efficiency:
      wallWh && out
        ? {
            value: (100 * out.value) / wallWh.value,
            plusMinus:
              ((100 * out.value) / wallWh.value) *
              Math.hypot(out.plusMinus / out.value, wallWh.plusMinus / wallWh.value),
          }
        : null,
    notes,
  }
}

const fits = (share: number): boolean => share > EFFICIENT[0] && share < EFFICIENT[1]

/** ∫ dt in hours by the rectangle rule; null where over a tenth of the session is silent. */
function sum(stepS: number, at: (i: number) => number, n: number): number | null {
  let total = 0
  let silent = 0
  for (let i = 0; i < n; i++) {
    const value = at(i)
    if (Number.isFinite(value)) total += value
    else silent++
  }
  return silent > n / 10 ? null : (total * stepS * (n / (n - silent))) / 3600
}

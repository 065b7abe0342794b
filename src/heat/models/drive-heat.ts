import type { Channel } from '../../../shared/drive.ts'
import type { Span } from '../../../shared/units.ts'
import { packCurrent } from '../../car/pack-current.ts'
import type { Facts } from '../../facts/facts.ts'
import { leastSquares } from '../../math/least-squares.ts'
import { extremes, mean, standardDeviation } from '../../math/stats.ts'
import { linearAt } from '../../samples/on-one-clock.ts'
import { smallestStep } from './module-temperatures.ts'
import { fitModule, meanSquareOnGrid } from './one-store.ts'

/** A reading even from the start stands still so long before it is called stuck; no source. */
const COLD_STILL_S = 300
/** Less heat hardly moves a motor or an inverter; no source. */
const HEATS_W = 3000
/** A reading that stood before stands so long; no source. */
const STILL_S = 60

export type DrivePart = 'inverter' | 'motor'

/** How inverter or motor warmed over the drive. */
export interface DriveHeat {
  readonly part: DrivePart
  readonly channel: Channel
  readonly stepC: number
  /** °C on the grid, NaN where not read. */
  readonly timeS: Float64Array
  readonly celsius: Float64Array
  readonly riseC: number
  readonly hottestC: number
  readonly hottestS: number
  /** What of the coolant lies under it now, °C; null where none is logged. */
  readonly aboveCoolantC: number | null
  /** The fitted law; null where the rise is too small or nothing fits. */
  readonly law: DriveHeatLaw | null
  /** Longest stretch in which it read the very same while its heat should have moved it; null where there is none. */
  readonly stuck_s: Span | null
  /** K that the law lets expect in that stretch. */
  readonly stuckMissedC: number
}

export interface DriveHeatLaw {
  /** What stands for the heat. */
  readonly heat: 'torque squared' | 'current squared' | 'electrical power'
  /** Kelvin above the coolant once settled, for a mean heat of 100² N²·m², 100² A² or 1 kW. */
  readonly kelvinPerUnit: number
  /** Where it settles on this drive's mean heat, °C, and its 95 % half width. */
  readonly settlesC: number
  readonly settlesPlusMinusC: number
  /** Time constant of cooling, s. */
  readonly tauS: number
  readonly spreadC: number
  /** Seconds until a temperature is met if this drive's mean heat went on; null where it settles below. */
  untilS(celsius: number): number | null
}

/** What a rise is said per, and its size in N²·m², A² or W. */
export const UNIT = {
  'torque squared': { size: 1e4, words: '(100 N·m)²' },
  'current squared': { size: 1e4, words: '(100 A)²' },
  'electrical power': { size: 1e3, words: 'kW' },
} as const

const GRID_POINTS = 600
/** Rise that a law needs: so many steps of the sensor. */
const STEPS = 5
/** A constant reading counts as stuck where the law, or its companions, moved by so many kelvin and so many steps. */
const STUCK_C = 4
/**
 * Stuck from the start: before this share of the log, over most of it, while the companion of this part moved by so
 * many kelvin.
 */
const COLD_SHARE = 0.15
const MOST_SHARE = 0.6
const COMPANION_C = { motor: 4, inverter: 6 }
const STUCK_STEPS = 4
/** With fewer readings before the stretch, the law could have begun it at any temperature. */
const LED_IN = 10

/**
 * Inverter and motor temperature against the heat put into them.
 *
 * Model:  C·dT/dt = k·H − (T − Tcoolant)/Rth, as for the modules (`fitModule`); H is the square of torque or of battery
 *         current, or the magnitude of the electrical power: whichever leaves the least residual. Without coolant one
 *         constant surrounding temperature is fitted with it.
 * Stuck: a reading that stays the very same while the law, fitted on all other moments, moves by 4 K, four steps and
 *         five of its residual's spreads, whatever it began at where no readings lead into it; or from the drive's
 *         cold start on and over most of it, while its companion moved
 *         by 6 K (for the motor: the inverter, by 4 K) under a mean load of 3 kW.
 * Reads: inverter_temperature, motor_temperature, coolant_in [°C]; torque [N·m]; pack_current [A]; pack_voltage [V].
 * Biased by: iron losses that follow speed, not torque (in the residual); a fan or pump that changes part way.
 * Source: lumped-capacity heat balance, any heat-transfer textbook; closed form in `thermal-fit`.
 */
export function driveHeat(facts: Facts): DriveHeat[] {
  const { channels, durationS } = facts.drive
  const ids = { inverter: 'inverter_temperature', motor: 'motor_temperature' } as const
  const parts = (['inverter', 'motor'] as const).filter((part) => channels.has(ids[part]))
  if (parts.length === 0 || !(durationS > 0)) return []
  const stepS = Math.max(1, durationS / GRID_POINTS)
  const timeS = Float64Array.from({ length: Math.max(2, Math.floor(durationS / stepS)) }, (_, i) => i * stepS)
  const heats = heatsOnGrid(facts, timeS, stepS)
  const inlet = channels.get('coolant_in')
  const coolant = inlet ? filled(linearAt(inlet, timeS, 120)) : null
  const seen = parts.map((part) => ({
    part,
    channel: channels.get(ids[part])!,
    celsius: linearAt(channels.get(ids[part])!, timeS, Math.max(60, 5 * stepS)),
  }))
  const power = heats.find((each) => each.heat === 'electrical power')
  return seen.map(({ part, channel, celsius }): DriveHeat => {
    const step = channel.step > 0 ? channel.step : smallestStep(channel.values)
    const stepC = Number.isFinite(step) ? step : 1
    const known = [...celsius.keys()].filter((i) => Number.isFinite(celsius[i]!))
    const { low, high } = extremes(celsius)
    const hottest = known.reduce(
      (best, i) => (celsius[i]! > (celsius[best] ?? -999) ? i : best),
      known[0] ?? 0,
    )
    const flat = longestFlat(celsius)
    const others = celsius.map((value, i) => (i >= flat[0] && i < flat[1] ? Number.NaN : value))
    const whole = high - low >= STEPS * stepC ? lawOf(heats, timeS, stepS, celsius, coolant) : null
    const { stuck, missedC } = stuckIn(flat, timeS.length, stepS, stepC, {
      companionC: companionMoved(seen, part, flat),
      leastC: COMPANION_C[part],
      loadW: power ? mean(power.on.subarray(flat[0], flat[1])) : 0,
      others,
      lawBeside: () => lawOf(heats, timeS, stepS, others, coolant),
    })
    const last = known[known.length - 1]
    return {
      part,
      channel,
      stepC,
      timeS,
      celsius,
      riseC: high - (celsius[known[0] ?? 0] ?? Number.NaN),
      hottestC: high,
      hottestS: timeS[hottest] ?? 0,
      aboveCoolantC: coolant && last !== undefined ? celsius[last]! - coolant[last]! : null,
      law: whole?.law ?? null,
      stuck_s: stuck ? [timeS[flat[0]]!, timeS[Math.max(flat[0], flat[1] - 1)]!] : null,
      stuckMissedC: missedC,
    }
  })
}

/** Is a reading that stood even stuck, and how far it should have gone meanwhile, K? See `driveHeat`. */
function stuckIn(
  [from, to]: readonly [number, number],
  rows: number,
  stepS: number,
  stepC: number,
  beside: {
    readonly companionC: number
    readonly leastC: number
    readonly loadW: number
    /** The readings of all other moments. */
    readonly others: Float64Array
    readonly lawBeside: () => ReturnType<typeof lawOf>
  },
): { stuck: boolean; missedC: number } {
  const stillS = (to - from) * stepS
  const fromCold = from < COLD_SHARE * rows && to - from > MOST_SHARE * rows
  // it hardly moved before, so nothing of its own can be learned from
  const companionWent = beside.companionC >= Math.max(beside.leastC, 4 * stepC)
  if (fromCold && stillS > COLD_STILL_S && companionWent && beside.loadW > HEATS_W)
    return { stuck: true, missedC: beside.companionC }
  // a reading that hardly moved elsewhere teaches no law to hold this stretch against
  const { low, high } = extremes(beside.others)
  const law = stillS > STILL_S && high - low >= STEPS * stepC ? beside.lawBeside() : null
  if (!law) return { stuck: false, missedC: 0 }
  const expected = law.modelC.subarray(from, to)
  const inside = extremes(from < LED_IN ? withoutStart(expected, stepS / law.law.tauS) : expected)
  const missedC = inside.high - inside.low
  // the law must be right beside the stretch, so that only the stretch is odd
  return { stuck: missedC >= Math.max(STUCK_C, STUCK_STEPS * stepC, 5 * law.law.spreadC), missedC }
}

/**
 * What a modelled temperature still does once it may begin anywhere: without the share that decays with its time
 * constant (least squares on 1 and e^(−t/τ)). What is left swings about 0.
 * @param decay the grid's step over the time constant
 */
function withoutStart(modelC: Float64Array, decay: number): Float64Array {
  const fade = modelC.map((_, i) => Math.exp(-i * decay))
  const fit = leastSquares([modelC.map(() => 1), fade], modelC)
  if (!fit) return modelC
  const [level, share] = fit.coefficients
  return modelC.map((value, i) => value - level! - share! * fade[i]!)
}

/** K that the hottest-moving companion (the other of the two) went through in a stretch of the grid. */
function companionMoved(
  seen: readonly { readonly part: DrivePart; readonly celsius: Float64Array }[],
  part: DrivePart,
  [from, to]: readonly [number, number],
): number {
  const other = seen.find((each) => each.part !== part)
  if (!other) return 0
  const { low, high } = extremes(other.celsius.subarray(from, to))
  return Number.isFinite(high - low) ? high - low : 0
}

interface Heat {
  readonly heat: DriveHeatLaw['heat']
  readonly on: Float64Array
}

function heatsOnGrid(facts: Facts, timeS: Float64Array, stepS: number): Heat[] {
  const current = facts.once(packCurrent)
  const torque = facts.drive.channels.get('torque')
  const voltage = facts.drive.channels.get('pack_voltage')
  const heats: Heat[] = []
  if (torque)
    heats.push({ heat: 'torque squared', on: meanSquareOnGrid(torque.timeS, torque.values, timeS, stepS) })
  if (current) {
    heats.push({
      heat: 'current squared',
      on: meanSquareOnGrid(current.timeS, current.amperes, timeS, stepS),
    })
    if (voltage) {
      const volts = linearAt(voltage, current.timeS, 10)
      const root = current.amperes.map((value, i) => Math.sqrt(Math.abs(value * volts[i]!)))
      heats.push({ heat: 'electrical power', on: meanSquareOnGrid(current.timeS, root, timeS, stepS) })
    }
  }
  return heats
}

function lawOf(
  heats: readonly Heat[],
  timeS: Float64Array,
  stepS: number,
  celsius: Float64Array,
  coolant: Float64Array | null,
): { law: DriveHeatLaw; modelC: Float64Array } | null {
  let best: { law: DriveHeatLaw; modelC: Float64Array } | null = null
  for (const { heat, on } of heats) {
    const fit = fitModule({ timeS, stepS }, celsius, on, coolant, null)
    if (!fit || !(fit.a > 0) || !(fit.b > 1e-5)) continue
    const residual = [...celsius.keys()].flatMap((i) =>
      Number.isFinite(celsius[i]!) ? [celsius[i]! - fit.modelC[i]!] : [],
    )
    const spreadC = standardDeviation(residual)
    if (best && spreadC >= best.law.spreadC) continue
    const above = (fit.a * mean(on)) / fit.b
    const lastC = [...fit.modelC].reverse().find(Number.isFinite)!
    // the coolant as it was at the end; without one what the fit took for it: T where nothing heats
    const baseC = coolant ? coolant[coolant.length - 1]! : fit.restC
    const settlesC = baseC + above
    best = {
      modelC: fit.modelC,
      law: {
        heat,
        kelvinPerUnit: (fit.a / fit.b) * UNIT[heat].size,
        settlesC,
        settlesPlusMinusC: 1.96 * Math.hypot(above * Math.max(0.05, fit.error / fit.b), spreadC),
        tauS: 1 / fit.b,
        spreadC,
        untilS: (limitC) =>
          lastC < limitC && settlesC > limitC
            ? -Math.log((settlesC - limitC) / (settlesC - lastC)) / fit.b
            : null,
      },
    }
  }
  return best
}

/** Longest run of one and the same reading: half-open indexes. */
function longestFlat(celsius: Float64Array): [number, number] {
  let best: [number, number] = [0, 0]
  for (let from = 0; from < celsius.length; ) {
    let to = from + 1
    while (to < celsius.length && Math.abs(celsius[to]! - celsius[from]!) < 1e-9) to++
    if (to - from > best[1] - best[0]) best = [from, to]
    from = to
  }
  return best
}

function filled(values: Float64Array): Float64Array | null {
  let last = values.find(Number.isFinite)
  if (last === undefined) return null
  return values.map((value) => (last = Number.isFinite(value) ? value : last!))
}

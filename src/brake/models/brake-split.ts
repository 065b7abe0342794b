import { brakeTrace } from '../../car/brake-trace.ts'
import { drivenSpeed, motorTorque } from '../../car/regen-torque.ts'
import type { Facts } from '../../facts/facts.ts'
import { type NonlinearFit, nonlinearFit } from '../../math/nonlinear-fit.ts'
import { robustLeastSquares } from '../../math/robust-least-squares.ts'
import { integral } from '../../math/running-integral.ts'
import { indexAt, samplePeriod } from '../../samples/on-one-clock.ts'

/** Fewer windows do not part road, regeneration and friction; no source. */
const FEWEST_WINDOWS = 40

/** What slows the car, per unit, as the drive shows it. All in m/s² of deceleration. */
export interface BrakeSplit {
  /** m/s² per N·m at the motor: the car's effective inertia, gear and wheel in one figure. */
  readonly perNm: number
  readonly perNmPlusMinus: number
  /** m/s² of friction per unit of press (bar or %); null where it cannot be told from regeneration. */
  readonly perPress: number | null
  readonly perPressPlusMinus: number | null
  /** Press below which the pads do not bite yet (coarse: half a bar). */
  readonly bite: number
  /** Road load: rolling m/s², and m/s² per (km/h)². */
  readonly roll: number
  readonly rollPlusMinus: number
  readonly drag: number
  readonly dragPlusMinus: number
  /** Spread of what the model does not explain over one window, m/s²: mostly slope of the road. */
  readonly spread: number
  readonly windowS: number
  readonly windows: number
  /** What the model leaves at each window, m/s² (positive: the car gained more speed than explained). */
  readonly left: { readonly fromS: Float64Array; readonly ms2: Float64Array }
  /** Why friction is not separable; null where it is. */
  readonly notSeparable: string | null
}

const WINDOW_S = 1
/** Windows of the same stretch share its slope: so many seconds count as one witness. */
const BLOCK_S = 10
const SLOWEST_KMH = 4
const LONGEST_GAP_S = 2
/** What the coarse bite leaves in friction per bar, share. */
const BITE_SHARE = 0.1
/** Few stretches brake, so the spread between them is itself uncertain: widens the errors. From the studies on the simulator. */
const FEW = 1.3
/** Pressures below which the pads may not bite, bar: the best of these is taken. */
const BITES = [0, 0.5, 1, 1.5, 2, 3]

/**
 * Model, over windows of a second in which the car moves forward:
 *     v(end) − v(start) = perNm · ∫T dt − perPress · ∫p dt − roll · Δt − drag · ∫v² dt
 * with p less the pads' bite. Integrals, not derivatives, so noise and small clock skew of the speed do not bias it.
 * Fitted robustly; the interval
 * counts ten seconds as one witness; what is constant over ten seconds (the road's slope) is taken out for the first two.
 * Torque is the inverter's estimate: only its error between driving and regenerating matters to friction, and enters
 * the interval with `torque_error_percent` of the regenerative share.
 * Friction is separable only where regeneration varies at equal pressure (fade, ceiling, limits) or driving fixes
 * `perNm`; else `notSeparable` says so. Gives null without speed and torque, or where the car hardly moves.
 */
export function brakeSplit(facts: Facts): BrakeSplit | null {
  const trace = facts.once(brakeTrace)
  const speed = facts.once(drivenSpeed)
  const torque = facts.once(motorTorque)
  if (!trace || !speed || !torque || torque.sign === 'unsigned') return null
  const windowS = Math.max(WINDOW_S, 4 * samplePeriod(speed.timeS))
  const rows = windows(facts, windowS)
  if (rows.dv.length < FEWEST_WINDOWS) return null
  const analog = trace.input === 'pressure' || trace.input === 'travel'
  const presses = analog && rows.press[0]!.some((each) => each > 0.5 * windowS)
  const best = bestBite(rows, presses)
  if (!best) return null
  const { fit, bite, press } = best
  const perNm = fit.parameters[0]!
  const error = (at: number): number => FEW * 1.96 * (fit.standardErrors[at] ?? Number.NaN)
  const friction = presses ? -fit.parameters[2]! : null
  // rolling and drag from what is left, slopes and all
  const left = rows.dv.map((dv, i) => dv - perNm * rows.nm[i]! + (friction ?? 0) * press[i]!)
  const road = roadLoad(rows, left)
  const [roll, drag] = road.parameters as unknown as [number, number]
  const regenShare = torqueShare(rows.nm, press) * perNm
  const frictionError =
    friction === null
      ? null
      : Math.hypot(error(2), (torque.errorPercent / 100) * regenShare, BITE_SHARE * friction)
  const separable =
    friction !== null &&
    frictionError !== null &&
    friction > 0 &&
    frictionError < Math.max(0.5 * friction, 0.02)
  return {
    perNm,
    perNmPlusMinus: error(0),
    perPress: separable ? friction : null,
    perPressPlusMinus: separable ? frictionError : null,
    bite,
    roll: -roll,
    rollPlusMinus: 1.96 * road.standardErrors[0]!,
    drag: -drag,
    dragPlusMinus: 1.96 * road.standardErrors[1]!,
    spread: road.spread / windowS,
    windowS,
    windows: rows.dv.length,
    left: { fromS: rows.fromS, ms2: road.residuals.map((dv) => dv / windowS) },
    notSeparable: separable
      ? null
      : presses
        ? 'regeneration and friction rise together with the press, and this drive does not vary one without the other enough'
        : 'no brake pressure or travel is logged',
  }
}

/** The pads' bite (press at which friction begins) that leaves least; 0 without presses. */
function bestBite(
  rows: ReturnType<typeof windows>,
  presses: boolean,
): { fit: NonlinearFit; bite: number; press: Float64Array } | null {
  let best: { fit: NonlinearFit; bite: number; press: Float64Array } | null = null
  for (const [at, bite] of (presses ? BITES : [0]).entries()) {
    const press = rows.press[at]!
    const fit = withinBlocks([rows.nm, rows.square, ...(presses ? [press] : [])], rows.dv, rows.block)
    if (fit && (!best || fit.spread < 0.995 * best.fit.spread)) best = { fit, bite, press }
  }
  return best
}

/** Rolling and drag from what torque and friction leave. */
function roadLoad({ time, square, block }: ReturnType<typeof windows>, left: Float64Array): NonlinearFit {
  return nonlinearFit(
    (p, out) => {
      for (let i = 0; i < out.length; i++) out[i] = p[0]! * time[i]! + p[1]! * square[i]!
    },
    left,
    [-0.12, -3e-5],
    [0.1, 1e-4],
    [
      [-10, 10],
      [-1, 1],
    ],
    block,
    { rounds: 10 },
  )
}

/**
 * Fit without what is constant in a block of ten seconds (the road's slope, which the driver answers with torque and
 * which would else pull `perNm` down): each column less its block's mean.
 */
function withinBlocks(
  columns: readonly Float64Array[],
  y: Float64Array,
  block: Int32Array,
): NonlinearFit | null {
  const inside = columns.map((column) => lessBlockMean(column, block))
  const seen = lessBlockMean(y, block)
  const first = robustLeastSquares(inside, seen)
  if (!first) return null
  return nonlinearFit(
    (p, out) => {
      for (let i = 0; i < out.length; i++) {
        let sum = 0
        for (let j = 0; j < inside.length; j++) sum += p[j]! * inside[j]![i]!
        out[i] = sum
      }
    },
    seen,
    Array.from(first.coefficients),
    Array.from(first.coefficients, (c) => Math.abs(c) + 1e-6),
    columns.map(() => [-1e3, 1e3] as const),
    block,
    { rounds: 6 },
  )
}

function lessBlockMean(values: Float64Array, block: Int32Array): Float64Array {
  const sum = new Map<number, [number, number]>()
  for (let i = 0; i < values.length; i++) {
    const entry = sum.get(block[i]!) ?? [0, 0]
    entry[0] += values[i]!
    entry[1]++
    sum.set(block[i]!, entry)
  }
  return values.map((value, i) => {
    const [total, count] = sum.get(block[i]!)!
    return value - total / count
  })
}

interface Windows {
  readonly fromS: Float64Array
  readonly dv: Float64Array
  readonly nm: Float64Array
  /** One column per bite tried. */
  readonly press: readonly Float64Array[]
  readonly time: Float64Array
  readonly square: Float64Array
  readonly block: Int32Array
}

function windows(facts: Facts, windowS: number): Windows {
  const trace = facts.once(brakeTrace)!
  const speed = facts.once(drivenSpeed)!
  const torque = facts.once(motorTorque)!
  const { timeS, values: kmh } = speed
  const presses = BITES.map((bite) =>
    integral(
      trace.timeS,
      trace.press.map((p) => (p > trace.begunAt / 2 ? Math.max(0, p - bite) : 0)),
      LONGEST_GAP_S,
    ),
  )
  const nm = integral(torque.timeS, torque.nm, LONGEST_GAP_S)
  const square = integral(
    timeS,
    kmh.map((v) => v * v),
    LONGEST_GAP_S,
  )
  const out: number[][] = []
  const mean = levelAt(timeS, kmh)
  const end = timeS[timeS.length - 1] ?? 0
  for (let from = timeS[0] ?? 0; from + windowS <= end; from += windowS) {
    const to = from + windowS
    const [v1, v2] = [mean(from), mean(to)]
    if (!(v1 > SLOWEST_KMH && v2 > SLOWEST_KMH)) continue
    const row = [
      (v2 - v1) / 3.6,
      nm(to) - nm(from),
      windowS,
      square(to) - square(from),
      Math.floor(from / BLOCK_S),
      ...presses.map((press) => (trace.input === 'none' ? 0 : press(to) - press(from))),
      from,
    ]
    if (row.every(Number.isFinite)) out.push(row)
  }
  const column = (j: number): Float64Array => Float64Array.from(out, (row) => row[j]!)
  return {
    fromS: column(5 + BITES.length),
    dv: column(0),
    nm: column(1),
    time: column(2),
    square: column(3),
    block: Int32Array.from(out, (row) => row[4]!),
    press: BITES.map((_, j) => column(5 + j)),
  }
}

/** Speed at a moment, as the straight line through the samples within a tenth of a second of it. */
function levelAt(timeS: Float64Array, kmh: Float64Array): (at: number) => number {
  return (at) => {
    const centre = indexAt(timeS, at)
    if (centre < 0 || centre + 1 >= timeS.length || timeS[centre + 1]! - timeS[centre]! > 2) return Number.NaN
    let n = 0
    let sumT = 0
    let sumV = 0
    let sumTT = 0
    let sumTV = 0
    let from = centre
    while (from > 0 && timeS[from - 1]! >= at - 0.1) from--
    for (let i = from; i < timeS.length && (timeS[i]! <= at + 0.1 || i <= centre + 1); i++) {
      const t = timeS[i]! - at
      n++
      sumT += t
      sumV += kmh[i]!
      sumTT += t * t
      sumTV += t * kmh[i]!
    }
    const bottom = n * sumTT - sumT * sumT
    return bottom > 1e-12 ? (sumV * sumTT - sumT * sumTV) / bottom : sumV / n
  }
}

/** Typical regeneration per unit of press while braking, N·m. */
function torqueShare(nm: Float64Array, press: Float64Array): number {
  let torque = 0
  let sum = 0
  for (let i = 0; i < nm.length; i++)
    if (press[i]! > 0 && nm[i]! < 0) {
      torque -= nm[i]!
      sum += press[i]!
    }
  return sum > 0 ? torque / sum : 0
}

/** What the car decelerates by at a press and regenerative torque (N·m ≥ 0), without the road's slope, m/s². */
export function decelerationMs2(split: BrakeSplit, regenNm: number, press: number, kmh: number): number {
  return (
    split.perNm * regenNm +
    (split.perPress ?? 0) * Math.max(0, press - split.bite) +
    split.roll +
    split.drag * kmh * kmh
  )
}

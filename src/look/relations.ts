import { correlation } from '../math/correlation.ts'
import { median, quantile, standardDeviation } from '../math/stats.ts'
import type { Candidate } from './candidates.ts'
import { inOrder } from './family-match.ts'
import { longestGap, onGrid, POINTS } from './grid.ts'
import type { Proposal } from './proposal.ts'

/** A candidate on the common grid, with what its movement looks like. */
interface Seen {
  readonly candidate: Candidate
  readonly grid: Float64Array
  /** Movement from grid point to grid point. */
  readonly steps: Float64Array
  readonly low: number
  readonly high: number
  readonly middle: number
  readonly spread: number
}

/**
 * What can be told with no other log: relations of the bus with itself.
 *
 *     cells          many numbers of one form, at one level, moving together
 *     pack           their sum; the link: the same, but empty before the start
 *     current        the pack sags with it
 *     torque         torque · motor speed = voltage · current
 *     motor, road speed   two numbers in one proportion, at rest together, never below zero
 *     pedal tracks   two numbers mirrored or halved, at rest most of the time, torque follows
 *     temperatures   slow numbers that start at one ambient temperature under usual scales
 *
 * Scales come from usual steps and from what a car can show (common practice, no source): never surer than 0.88.
 */
export function proposeByRelations(candidates: readonly Candidate[]): Proposal[] {
  const all = seenOnGrid(candidates)
  const found: Proposal[] = []
  const taken = new Set<string>()
  const propose = (
    seen: Seen,
    channel: string,
    factor: number,
    offset: number,
    sureness: number,
    why: string,
    otherwise: string | null = null,
  ): void => {
    if (taken.has(seen.candidate.spot)) return
    taken.add(seen.candidate.spot)
    found.push({
      candidate: seen.candidate,
      channel,
      factor,
      offset,
      sureness,
      from: 'relation',
      why,
      otherwise,
    })
  }
  const left = (): Seen[] => all.filter(({ candidate }) => !taken.has(candidate.spot))

  const cells = cellsAmong(all)
  if (cells) {
    cells.members.forEach((seen, k) => {
      propose(
        seen,
        `cell_voltage.${k + 1}`,
        cells.factor,
        0,
        0.85,
        `${cells.members.length} numbers of one form stand at one level and move together`,
        'another cell: taken in the order in which the bus sends them',
      )
    })
    const pack = packAmong(left(), cells)
    if (pack) {
      propose(
        pack.seen,
        'pack_voltage',
        pack.factor,
        0,
        0.88,
        `is the sum of the ${cells.members.length} cells to ${(100 * pack.off).toPrecision(2)} %`,
        'box voltage',
      )
      const link = linkAmong(left(), pack)
      if (link)
        propose(
          link.seen,
          'link_voltage',
          link.factor,
          0,
          0.75,
          'is the pack voltage while driving, and lower before the start',
        )
      drive(left, pack, cells.members.length, propose)
    }
  }
  pedals(left, propose)
  temperatures(left(), propose)
  return found
}

type Propose = (
  seen: Seen,
  channel: string,
  factor: number,
  offset: number,
  sureness: number,
  why: string,
  otherwise?: string | null,
) => void

function seenOnGrid(candidates: readonly Candidate[]): Seen[] {
  let from = Number.POSITIVE_INFINITY
  let to = Number.NEGATIVE_INFINITY
  for (const { timeS } of candidates) {
    from = Math.min(from, timeS[0]!)
    to = Math.max(to, timeS[timeS.length - 1]!)
  }
  return candidates.map((candidate) => {
    const grid = onGrid(candidate.timeS, candidate.raw, from, to, POINTS, longestGap(candidate.timeS))
    const steps = new Float64Array(POINTS).fill(Number.NaN)
    for (let p = 2; p + 2 < POINTS; p++) steps[p] = grid[p + 2]! - grid[p - 2]!
    return {
      candidate,
      grid,
      steps,
      low: quantile(grid, 0.002),
      high: quantile(grid, 0.998),
      middle: median(grid),
      spread: standardDeviation(grid),
    }
  })
}

const form = ({ candidate: { place } }: Seen): string => `${place.length}/${place.byteOrder}`
const r2 = (x: Float64Array, y: Float64Array): number => {
  const { r } = correlation(x, y)
  return Number.isFinite(r) ? r * r : 0
}

/** Of the round factors the one whose result is nearest to what is usual, in octaves from it; null where none is near. */
function usualFactor(
  factors: readonly number[],
  value: number,
  usual: number,
  octaves: number,
): number | null {
  const near = factors
    .map((factor) => ({ factor, far: Math.abs(Math.log2((value * factor) / usual)) }))
    .sort((a, b) => a.far - b.far)[0]
  return near && near.far <= octaves ? near.factor : null
}

const CELL_FACTORS = [0.001, 0.0001, 0.002, 0.005, 0.01, 0.0005, 0.0002]
const LEAST_CELLS = 6

interface Cells {
  readonly members: readonly Seen[]
  readonly factor: number
  readonly mean: Float64Array
}

/** The largest group of one form at one level (within 6 %) that moves together; its scale puts it at 2.5 … 4.3 V. */
function cellsAmong(all: readonly Seen[]): Cells | null {
  let best: Cells | null = null
  for (const name of new Set(all.map(form))) {
    const own = all.filter(
      (seen) => form(seen) === name && seen.middle > 100 && !(seen.spread > 0.15 * seen.middle),
    )
    for (const seed of own) {
      if (best?.members.includes(seed)) continue
      const near = own.filter((seen) => Math.abs(seen.middle - seed.middle) < 0.06 * seed.middle)
      if (near.length < Math.max(LEAST_CELLS, (best?.members.length ?? 0) + 1)) continue
      const mean = seed.grid.map((_, p) => near.reduce((sum, seen) => sum + seen.grid[p]!, 0) / near.length)
      const members = near.filter((seen) => r2(seen.grid, mean) > 0.5)
      if (members.length < Math.max(LEAST_CELLS, (best?.members.length ?? 0) + 1)) continue
      const fitting = CELL_FACTORS.filter((factor) => {
        const volt = seed.middle * factor
        return volt > 2.5 && volt < 4.3
      })
      const factor = fitting[0]
      // temperatures drift; cells follow the current from second to second
      if (factor === undefined || !(standardDeviation(stepsOf(mean)) * factor > 0.002)) continue
      best = { members: [...members].sort((a, b) => inOrder(a.candidate, b.candidate)), factor, mean }
    }
  }
  return best
}

function stepsOf(grid: Float64Array): Float64Array {
  const steps = new Float64Array(grid.length).fill(Number.NaN)
  for (let p = 2; p + 2 < grid.length; p++) steps[p] = grid[p + 2]! - grid[p - 2]!
  return steps
}

interface Pack {
  readonly seen: Seen
  readonly factor: number
  readonly off: number
  readonly volts: Float64Array
}

function packAmong(left: readonly Seen[], cells: Cells): Pack | null {
  const sum = cells.mean.map((each) => each * cells.factor * cells.members.length)
  const volt = median(sum)
  let best: Pack | null = null
  let most = 0.9
  for (const seen of left) {
    const fit = r2(seen.grid, sum)
    if (fit <= most || !(seen.middle > 0)) continue
    const ratio = volt / seen.middle
    const factor = [0.1, 1, 0.01, 0.5, 0.05, 0.2, 0.25, 0.02].find(
      (each) => Math.abs(ratio / each - 1) < 0.025,
    )
    if (factor === undefined) continue
    most = fit
    best = { seen, factor, off: Math.abs(ratio / factor - 1), volts: seen.grid.map((each) => each * factor) }
  }
  return best
}

/** As the pack from the start on; before it, lower by a tenth at least for some time. */
function linkAmong(left: readonly Seen[], pack: Pack): { seen: Seen; factor: number } | null {
  let best: { seen: Seen; factor: number } | null = null
  let most = 0.7
  for (const seen of left)
    for (const factor of [0.1, 1, 0.5, 0.01, 0.05, 0.2, 0.25]) {
      let near = 0
      let under = 0
      let all = 0
      for (let p = 0; p < seen.grid.length; p++) {
        const volt = seen.grid[p]! * factor
        if (!Number.isFinite(volt + pack.volts[p]!)) continue
        all++
        if (Math.abs(volt - pack.volts[p]!) < 0.015 * pack.volts[p]!) near++
        else if (volt < 0.9 * pack.volts[p]!) under++
      }
      if (near / all > most && under > 0.002 * all) {
        most = near / all
        best = { seen, factor }
      }
    }
  return best
}

/** Current by sag, speeds by proportion, torque by power. */
function drive(left: () => Seen[], pack: Pack, cells: number, propose: Propose): void {
  const fast = stepsOf(pack.volts)
  const currents = left()
    .map((seen) => ({ seen, ...correlation(seen.steps, fast) }))
    .filter(
      ({ r, seen }) => Math.abs(r) > 0.75 && seen.low < -0.03 * seen.high && seen.candidate.place.signed,
    )
    .sort((a, b) => Math.abs(b.r) - Math.abs(a.r))
  const [main] = currents
  if (!main) return
  // volts a count: a cell of this size has some milliohms; a car of this size draws some hundred amperes
  const milliohm = (-main.slope / cells) * 1000
  const peak = Math.max(Math.abs(main.seen.high), Math.abs(main.seen.low))
  const factor = [0.1, 1, 0.5, 0.01, 0.25, 0.05, 0.2]
    .map((each) => ({
      each,
      far:
        (Math.log2(Math.abs(milliohm) / each / 1.4) / 1.6) ** 2 +
        (Math.log2((peak * each) / 220) / 1.1) ** 2 +
        ([0.1, 1, 0.5].includes(each) ? 0 : 0.7),
    }))
    .sort((a, b) => a.far - b.far)[0]!.each
  const sign = main.slope < 0 ? 1 : -1
  const ampere = main.seen.grid.map((each) => each * factor * sign)
  const like = currents.filter(
    ({ seen, r }) => seen !== main.seen && r2(seen.grid, main.seen.grid) > 0.985 && r * main.r > 0,
  )
  const speeds = speedsAmong(left())
  propose(
    main.seen,
    'pack_current',
    factor * sign,
    0,
    0.55,
    `the pack sags with it (r ${main.r.toFixed(2)}); scale by what cells and cars usually show`,
    'inverter_dc_current',
  )
  if (!speeds) return
  const { motor, road } = speeds
  const rpm = usualFactor([1, 0.5, 0.25, 0.1, 2, 10], motor.high, 6500, 1.3)
  const kmh = usualFactor([0.1, 0.05, 0.01, 1, 0.02, 0.5], road.high, 75, 1.2)
  if (rpm !== null) {
    propose(
      motor,
      'motor_speed',
      rpm,
      0,
      0.6,
      'in one proportion with another speed, at rest together; scale by what motors usually turn',
      'speed',
    )
    const watt = pack.volts.map((volt, p) => volt * ampere[p]!)
    const power = left()
      .filter((seen) => seen.candidate.place.signed && seen.low < 0 && seen.high > 0)
      .map((seen) => {
        const product = seen.grid.map((each, p) => each * motor.grid[p]! * rpm * (Math.PI / 30))
        return { seen, ...correlation(product, watt) }
      })
      .filter(({ r, seen }) => r > 0.93 && !like.some((each) => each.seen === seen))
      .sort((a, b) => b.r - a.r)
      .slice(0, 2)
    const scaled = power.flatMap((each) => {
      const f = usualFactor([0.1, 1, 0.5, 0.05, 0.01, 0.2, 0.25, 0.02], 1, each.slope * 0.92, 0.6)
      return f === null ? [] : [{ ...each, f }]
    })
    const [a, b] = scaled
    if (a && b) {
      // what asks moves before what answers
      const [asks, answers] = leads(a.seen, b.seen) ? [a, b] : [b, a]
      propose(
        answers.seen,
        'torque',
        answers.f,
        0,
        0.6,
        `times motor speed it is the pack's power (r ${answers.r.toFixed(2)})`,
        'torque_request',
      )
      propose(asks.seen, 'torque_request', asks.f, 0, 0.5, `as torque, a little earlier`, 'torque')
    } else if (a)
      propose(
        a.seen,
        'torque',
        a.f,
        0,
        0.6,
        `times motor speed it is the pack's power (r ${a.r.toFixed(2)})`,
        'torque_request',
      )
  }
  if (kmh !== null)
    propose(
      road,
      'speed',
      kmh,
      0,
      0.5,
      'in one proportion with another speed, at rest together; scale by how fast cars usually go',
      'motor_speed',
    )
  for (const { seen, slope } of like.slice(0, 1)) {
    const same = correlation(seen.grid, main.seen.grid).slope * factor
    const f = usualFactor([0.1, 1, 0.5, 0.25, 0.01, 0.05, 0.2], 1, Math.abs(same), 0.2)
    if (f !== null)
      propose(
        seen,
        'inverter_dc_current',
        f * (slope < 0 ? 1 : -1),
        0,
        0.5,
        'moves as the pack current does',
        'pack_current',
      )
  }
}

/** Two numbers in proportion, never below zero by more than noise, at zero for some of the time. */
function speedsAmong(left: readonly Seen[]): { motor: Seen; road: Seen } | null {
  const still = left.filter(
    ({ low, high, grid }) =>
      high > 100 &&
      low > -0.03 * high &&
      grid.filter((each) => Math.abs(each) < 0.01 * high).length > 0.03 * POINTS,
  )
  let best: { motor: Seen; road: Seen } | null = null
  let most = 0.995
  for (const a of still)
    for (const b of still) {
      if (a === b || a.high < b.high || a.candidate.spot === b.candidate.spot) continue
      const fit = r2(a.grid, b.grid)
      if (fit <= most) continue
      most = fit
      best = { motor: a, road: b }
    }
  return best
}

/** Does `a` move before `b`? By the correlation of steps one grid point either way. */
function leads(a: Seen, b: Seen): boolean {
  const shifted = (by: number): number => {
    const x = b.steps.map((_, p) => b.steps[p + by] ?? Number.NaN)
    const { r } = correlation(a.steps, x)
    return Number.isFinite(r) ? r : 0
  }
  return shifted(1) >= shifted(-1)
}

/** Two numbers mirrored or in one proportion with a rest of their own, at one end most of the time; a third from 0 to 100 %. */
function pedals(left: () => Seen[], propose: Propose): void {
  const own = left().filter(
    ({ low, high, grid }) =>
      high - low > 60 &&
      low > 20 &&
      grid.filter((each) => each < low + 0.05 * (high - low) || each > high - 0.05 * (high - low)).length >
        0.15 * POINTS,
  )
  let pair: readonly [Seen, Seen, number] | null = null
  let most = 0.99
  for (let i = 0; i < own.length; i++)
    for (let j = i + 1; j < own.length; j++) {
      const { r } = correlation(own[i]!.grid, own[j]!.grid)
      if (!(r * r > most)) continue
      most = r * r
      pair = [own[i]!, own[j]!, r]
    }
  if (!pair) return
  const [a, b, r] = pair
  const [first, second] = inOrder(a.candidate, b.candidate) <= 0 ? [a, b] : [b, a]
  // sensors of 5 V: mirrored tracks sum to about that; else the higher one ends near 4 V
  const value =
    r < 0 ? median(first.grid.map((each, p) => each + second.grid[p]!)) : Math.max(first.high, second.high)
  const factor = usualFactor([0.001, 0.002, 0.005, 0.01, 0.02, 0.0005], value, r < 0 ? 5 : 3.7, 0.62)
  if (factor === null) return
  const why =
    r < 0
      ? 'two mirrored tracks; scale by the 5 V that pedals are fed with'
      : 'two tracks in one proportion; scale by the 5 V that pedals are fed with'
  propose(first, 'pedal_track_1', factor, 0, 0.6, why, 'pedal_track_2')
  propose(second, 'pedal_track_2', factor, 0, 0.6, why, 'pedal_track_1')
  const position = left()
    .filter(({ low, high, grid }) => high > 20 && Math.abs(low) < 0.03 * high && r2(grid, first.grid) > 0.97)
    .sort((x, y) => r2(y.grid, first.grid) - r2(x.grid, first.grid))[0]
  if (!position) return
  const percent = usualFactor([0.1, 0.5, 1, 0.4, 0.01], position.high, 80, 0.9)
  if (percent !== null)
    propose(position, 'pedal_position', percent, 0, 0.5, 'moves as the two tracks do, from nought on')
}

const DEGREES = [1, 0.5, 0.1, 0.01]

/** Slow numbers that begin at one temperature under usual scales: the level that explains most of them. */
function temperatures(left: readonly Seen[], propose: Propose): void {
  const slow = left.filter(({ candidate, grid, spread, middle, low, high }) => {
    const known = grid.filter(Number.isFinite)
    return (
      candidate.place.length >= 8 &&
      known.length > 100 &&
      middle > 2 &&
      high - low < 0.8 * Math.max(20, middle) &&
      spread > 0 &&
      standardDeviation(stepsOf(grid)) < Math.max(0.6, 0.5 * spread)
    )
  })
  let best: { at: number; near: { seen: Seen; factor: number }[] } | null = null
  for (let at = -5; at <= 40; at += 0.5) {
    const near = slow.flatMap((seen) => {
      const start = median(seen.grid.subarray(0, 60))
      const factor = DEGREES.find((each) => Math.abs(each * start - at) < 3)
      return factor === undefined ? [] : [{ seen, factor }]
    })
    if (near.length > (best?.near.length ?? 2)) best = { at, near }
  }
  if (!best) return
  const forms = new Map<string, { seen: Seen; factor: number }[]>()
  for (const each of best.near) {
    const name = `${form(each.seen)}/${each.factor}`
    forms.set(name, [...(forms.get(name) ?? []), each])
  }
  const [largest] = [...forms.values()].sort((a, b) => b.length - a.length)
  if (!largest || largest.length < 3) return
  // a row of sensors stands in neighbouring frames of one group: the longest run is the modules'
  const run = longestRun(largest.sort((a, b) => inOrder(a.seen.candidate, b.seen.candidate)))
  run.forEach(({ seen, factor }, k) => {
    propose(
      seen,
      `module_temperature.${k + 1}`,
      factor,
      0,
      0.5,
      `${run.length} slow numbers of one form begin near ${best.at} °C`,
      'another temperature',
    )
  })
}

/** Members in identifiers that follow each other. */
function longestRun<T extends { readonly seen: Seen }>(sorted: readonly T[]): readonly T[] {
  let best: readonly T[] = []
  let run: T[] = []
  for (const each of sorted) {
    const before = run.at(-1)?.seen.candidate.look.message.key
    const key = each.seen.candidate.look.message.key
    if (before !== undefined && key - before > 1) run = []
    run.push(each)
    if (run.length > best.length) best = [...run]
  }
  return best
}

import { correlation } from '../math/correlation.ts'
import { median, standardDeviation } from '../math/stats.ts'
import { inOrder } from './family-match.ts'
import { POINTS } from './grid.ts'
import { form, type Propose, r2, type Seen, stepsOf, usualFactor } from './relation-parts.ts'

/** Two numbers mirrored or in one proportion with a rest of their own, at one end most of the time; a third from 0 to 100 %. */
export function proposePedals(left: () => Seen[], propose: Propose): void {
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
export function proposeTemperatures(left: readonly Seen[], propose: Propose): void {
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

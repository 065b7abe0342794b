import { median, standardDeviation } from '../math/stats.ts'
import type { Candidate } from './candidates.ts'
import { inOrder } from './family-match.ts'
import type { Proposal } from './proposal.ts'
import { proposeDrive } from './relation-drive.ts'
import { form, type Pack, type Propose, r2, type Seen, seenOnGrid, stepsOf } from './relation-parts.ts'
import { proposePedals, proposeTemperatures } from './relation-rest.ts'

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
  const propose: Propose = (seen, channel, factor, offset, sureness, why, otherwise = null) => {
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

  proposePack(all, left, propose)
  proposePedals(left, propose)
  proposeTemperatures(left(), propose)
  return found
}

/** Cells, the pack and its link, and from them what drives. */
function proposePack(all: readonly Seen[], left: () => Seen[], propose: Propose): void {
  const cells = cellsAmong(all)
  if (!cells) return
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
    proposeDrive(left, pack, cells.members.length, propose)
  }
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

import { packCurrent } from '../../src/car/pack-current.ts'
import { quantile } from '../../src/math/stats.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import type { BoxStyle } from '../simulator/boxes.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { simulate } from '../simulator/simulate.ts'

/**
 * Can energy, current and the paths outside the cells be trusted? Simulated drives with random boxes (rate, step,
 * noise, gain, offset, clipping, lost or turned sign) against the simulator's truth: errors, how often the 95 %
 * intervals hold the truth, how often the sign is right, and what of this slice's kinds a healthy drive is accused of.
 *
 *     npx tsx tests/studies/energy.ts [drives, default 40] [--verbose]
 */
const MINE = new Set([
  'current-offset',
  'current-clipped',
  'cell-voltage-limit',
  'charge-current-over-limit',
  'discharge-current-over-limit',
  'charge-when-cold',
  'soc-disagrees',
  'main-path-resistance-high',
  'contactor-resistance-high',
  'box-link-resistance-high',
  'dcdc-not-charging',
  'lv-voltage-low',
  'lamp-disagrees',
  'energy-implausible',
])
const count = Number(process.argv.slice(2).find((each) => /^\d+$/.test(each)) ?? 40)
const verbose = process.argv.includes('--verbose')

const oneOf = <T>(random: Random, all: readonly T[]): T => all[Math.floor(random.next() * all.length)]!
const between = (random: Random, low: number, high: number): number => low + (high - low) * random.next()

interface Row {
  readonly error: number
  readonly half: number
}
const rows: Record<string, Row[]> = { out: [], in: [], net: [], ah_out: [], km: [] }
let accused = 0
let wrongSign = 0
const signs: Record<string, number> = {}

for (let seed = 1; seed <= count; seed++) {
  const random = new Random(seed)
  const style: Partial<BoxStyle> = {
    currentHz: oneOf(random, [1, 2, 5, 10, 20, 50]),
    cellHz: oneOf(random, [1, 2, 5, 10]),
    vehicleHz: oneOf(random, [5, 10, 20, 50]),
    currentStepA: oneOf(random, [0.1, 0.1, 0.5, 1]),
    currentNoiseA: between(random, 0.05, 0.8),
    currentGain: 0.01 * between(random, -1, 1),
    currentOffsetA: between(random, -1.5, 1.5),
    unsigned: random.next() < 0.2,
    turned: random.next() < 0.4,
    held: random.next() < 0.3,
    switchesOnChange: random.next() < 0.3,
  }
  const faults: Fault[] = []
  const made = simulate({
    seed,
    car: { pack: { chemistry: oneOf(random, ['nmc', 'lfp'] as const), pathMohm: between(random, 0.5, 3) } },
    route: { durationS: Math.round(between(random, 300, 700)) },
    style,
    faults,
  })
  const review = reviewDrive(made.drive, made.vehicle)
  const current = gatherFacts(made.drive, made.vehicle).once(packCurrent)
  const { energy } = review
  const { truth } = made
  const note = (name: string, value: number | null, half: number | null, want: number): void => {
    if (value !== null && half !== null) rows[name]!.push({ error: value - want, half })
  }
  note('out', energy.out_wh, energy.out_wh_plus_minus, truth.energyOutWh)
  note('in', energy.in_wh, energy.in_wh_plus_minus, truth.energyInWh)
  note('net', energy.net_wh, energy.net_wh_plus_minus, truth.energyOutWh - truth.energyInWh)
  note('ah_out', energy.ah_out, energy.ah_out_plus_minus, truth.ahOut)
  note('km', review.drive.distance_km, 0.02 * truth.distanceKm, truth.distanceKm)
  const sign = current?.sign ?? 'none'
  signs[sign] = (signs[sign] ?? 0) + 1
  if (energy.out_wh !== null && Math.abs(energy.out_wh - truth.energyOutWh) > 0.3 * truth.energyOutWh)
    wrongSign++
  const loud = review.findings.filter((each) => each.severity !== 'note' && MINE.has(each.kind))
  if (loud.length > 0) accused++
  if (verbose || loud.length > 0) {
    const figures = `out ${energy.out_wh?.toFixed(0)}±${energy.out_wh_plus_minus?.toFixed(0)} (${truth.energyOutWh.toFixed(0)}) in ${energy.in_wh?.toFixed(0)}±${energy.in_wh_plus_minus?.toFixed(0)} (${truth.energyInWh.toFixed(0)})`
    console.log(
      `${seed}: ${style.currentHz} Hz, ${style.unsigned ? 'unsigned' : style.turned ? 'turned' : 'signed'}, ${sign}; ${figures}; zero ${current?.zeroA.toFixed(2)}±${current?.zeroPlusMinusA?.toFixed(2)} (${style.currentOffsetA?.toFixed(2)})`,
    )
    for (const each of loud)
      console.log(`   ${each.severity} ${each.kind} ${each.value} ${each.unit}: ${each.headline}`)
    for (const each of review.questions)
      if (verbose && /path|contactors and cables/.test(each.question))
        console.log(`   ${each.state} ${each.why}`)
  }
}

for (const [name, all] of Object.entries(rows)) {
  const held = all.filter(({ error, half }) => Math.abs(error) <= half).length
  const size = quantile(
    all.map(({ error }) => Math.abs(error)),
    0.5,
  )
  const half = quantile(
    all.map((row) => row.half),
    0.5,
  )
  console.log(
    `${name}: ${all.length} drives, median error ${size.toPrecision(3)}, median half width ${half.toPrecision(3)}, held ${held}`,
  )
}
console.log(
  `signs ${JSON.stringify(signs)}; energy off by a third: ${wrongSign}; healthy drives accused: ${accused} of ${count}`,
)

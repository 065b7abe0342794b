import type { Review } from '../../shared/review.ts'
import { type PackReading, packReading } from '../../src/history/cell-series.ts'
import { changeTest } from '../../src/history/change-test.ts'
import { unlikeOthers } from '../../src/history/kit-test.ts'
import { cells } from '../../src/pack/questions/cells.ts'
import { gatherFacts, runAll } from '../../src/review/run-all.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { type Measured, simulate } from '../simulator/simulate.ts'

/**
 * Drive to drive of a car, and car to car of a kit: what is told of changes that are there, and of those that are not.
 *
 *     npm run study:record                       simulated estimates with their covariance: 20 cars × 20 drives × 84 cells,
 *                                                a joint that grows, kits of 12
 *     npm run study:record -- whole 2 --from=1   whole drives of both simulators, their packs reviewed: N cars of each
 *
 * Estimates are drawn by what whole drives showed of them: each cell's own error (heavy-tailed), what a drive does to all
 * cells, the sensor's drift, cells that differ by 2.5 %, joints by 0.01 mΩ, busbars between modules; −5 to 32 °C over the
 * seasons, so that the typical cell's resistance goes from 0.85 to over 2 times that at 25 °C.
 */
const from = Number(process.argv.find((each) => each.startsWith('--from='))?.slice(7) ?? 1)
const count = Number(process.argv.slice(2).find((each) => /^\d+$/.test(each)) ?? 20)

const TYPICAL = 1.5
const CELLS = 84

interface DrawnCar {
  readonly own: readonly number[]
  readonly metal: readonly number[]
  readonly level: number
  /** Activation of each cell over the gas constant, K. */
  readonly kelvin: readonly number[]
}

/** @param hidden share of cells with a joint below its limit that nobody knows of */
function drawnCar(random: Random, hidden = 0.05): DrawnCar {
  return {
    own: Array.from({ length: CELLS }, () => TYPICAL * 0.025 * random.normal()),
    metal: Array.from(
      { length: CELLS },
      (_, k) =>
        // every twentieth cell with a joint below its limit that nobody knows of
        0.01 * random.normal() +
        (k % 12 === 11 ? 0.25 : 0) +
        (random.chance(hidden) ? random.between(0.04, 0.12) : 0),
    ),
    level: 1 + 0.02 * random.normal(),
    kelvin: Array.from({ length: CELLS }, () => 2600 + 60 * random.normal()),
  }
}

/** Student's t with 5 degrees, of unit spread: heavier tails than any fit should have. */
function heavy(random: Random): number {
  let chi = 0
  for (let i = 0; i < 5; i++) chi += random.normal() ** 2
  return (random.normal() / Math.sqrt(chi / 5)) * Math.sqrt(3 / 5)
}

function drawnDrive(
  car: DrawnCar,
  celsius: number,
  extra: ReadonlyMap<number, number>,
  random: Random,
): PackReading {
  const cold = 1 / (celsius + 273.15) - 1 / 298.15
  const shared = 0.003 * Math.exp(0.5 * random.normal())
  const gain = 1 + 0.005 * random.normal()
  const rows = car.own.map((own, k) => {
    const error = 0.003 * Math.exp(0.3 * random.normal())
    const cell = (TYPICAL * car.level + own) * Math.exp(car.kelvin[k]! * cold)
    const value =
      gain * (cell + car.metal[k]! + (extra.get(k + 1) ?? 0)) +
      error * heavy(random) +
      shared * random.normal()
    return {
      ...{ index: k + 1, module: 1 + Math.floor(k / 12), resistance_mohm: value, resistance_window_s: 1 },
      ...{ resistance_mohm_repeats: 1.96 * error, class: k % 12 === 11 ? 'long-busbar' : 'healthy' },
    }
  })
  return packReading({ cells: rows as unknown as Review['cells'] })!
}

const season = (drive: number, random: Random): number =>
  13.5 - 14 * Math.cos((2 * Math.PI * drive) / 12) + 4.5 * random.normal()

function healthyCars(): void {
  let [tests, told, drivesTold, drives] = [0, 0, 0, 0]
  for (let seed = from; seed < from + count; seed++) {
    const random = new Random(71000 + seed)
    const car = drawnCar(random)
    const readings: PackReading[] = []
    for (let d = 0; d < 20; d++) {
      readings.push(drawnDrive(car, season(d + seed, random), new Map(), random))
      const change = changeTest(readings)
      if (!change) continue
      const false_ = change.cells.filter((each) => each.changed)
      tests += change.cells.length
      told += false_.length
      drives++
      if (false_.length > 0) {
        drivesTold++
        console.log(
          `  FALSE car ${seed} drive ${d + 1}: ${false_.map((each) => `${each.cell} ${each.stepMohm.toFixed(3)} ± ${each.stepPlusMinus.toFixed(3)}`).join(', ')}`,
        )
      }
    }
  }
  console.log(
    `healthy, estimates: ${count} cars × 20 drives × ${CELLS} cells: ${tests} cells asked, ${told} told falsely, in ${drivesTold} of ${drives} drives (stated: at most 4 in 100 drives = ${Math.floor(0.04 * drives)})`,
  )
}

/** @param apart months between drives */
function growing(apart: number): void {
  const firsts: number[] = []
  let [others, held, all] = [0, 0, 0]
  const smallest: number[] = []
  for (let seed = from; seed < from + count; seed++) {
    const random = new Random(72000 + seed)
    const car = drawnCar(random)
    const readings: PackReading[] = []
    const cell = 1 + random.whole(0, CELLS - 1)
    let first = 0
    for (let d = 0; d < 6; d++) {
      readings.push(drawnDrive(car, season(d * apart + seed, random), new Map([[cell, 0.02 * d]]), random))
      const change = changeTest(readings)
      const own = change?.cells.find((each) => each.cell === cell)
      if (own?.changed && first === 0) first = d + 1
      others += change?.cells.filter((each) => each.changed && each.cell !== cell).length ?? 0
      if (d === 5 && own) {
        all++
        if (Math.abs(own.slopeMohm! - 0.02) <= own.slopePlusMinus!) held++
        smallest.push(change!.smallestSlopeMohm!)
      }
    }
    firsts.push(first)
  }
  const by = [2, 3, 4, 5, 6].map(
    (drive) => `${firsts.filter((each) => each === drive).length} on the ${drive}th`,
  )
  console.log(
    `a joint that grows 0.02 mΩ a drive, six drives ${apart} months apart, estimates: found in ${firsts.filter(Boolean).length} of ${count} (${by.join(', ')}); others told ${others}; growth's 95 % interval held ${held} of ${all}; smallest growth that would have shown on the sixth ${Math.min(...smallest).toFixed(3)} to ${Math.max(...smallest).toFixed(3)} mΩ a drive`,
  )
}

/** @param ohm what is odd in two cars, mΩ */
function kits(oddMohm: number): void {
  let [odd, named, wrong, cars] = [0, 0, 0, 0]
  for (let seed = from; seed < from + count; seed++) {
    const random = new Random(73000 + seed)
    const design = Array.from({ length: CELLS }, (_, k) => (k % 12 === 11 ? 0 : 0.02 * random.normal()))
    const oddOnes = new Map<number, number>()
    while (oddOnes.size < 2) oddOnes.set(random.whole(0, 11), 1 + random.whole(0, CELLS - 1))
    const kit = Array.from({ length: 12 }, (_, n) => {
      const car = drawnCar(random, 0)
      const built = { ...car, metal: car.metal.map((each, k) => each + design[k]!) }
      const cell = oddOnes.get(n)
      return Array.from({ length: 4 }, () =>
        drawnDrive(
          built,
          season(random.whole(0, 11), random),
          new Map(cell ? [[cell, oddMohm]] : []),
          random,
        ),
      )
    })
    // as the library does it: the car by its warmest drive, the others each by the drive most like that one
    const warmest = kit.map((year) => year.reduce((x, y) => (y.typicalMohm < x.typicalMohm ? y : x)))
    const unlikeness = (x: PackReading, y: PackReading) => Math.abs(Math.log(x.typicalMohm / y.typicalMohm))
    const like = (year: readonly PackReading[], pack: PackReading) =>
      year.reduce((x, y) => (unlikeness(y, pack) < unlikeness(x, pack) ? y : x))
    warmest.forEach((pack, n) => {
      const told = unlikeOthers(
        pack,
        kit.filter((_, at) => at !== n).map((year) => like(year, pack)),
      )
      const cellsTold = told?.cells.filter((each) => each.unlike) ?? []
      cars++
      if (oddOnes.has(n)) {
        odd++
        if (cellsTold.some((each) => each.cell === oddOnes.get(n))) named++
        else {
          const missed = told?.cells.find((each) => each.cell === oddOnes.get(n))
          console.log(
            `  MISSED kit ${seed} car ${n + 1}: ${missed?.aboveMohm.toFixed(3)} ± ${missed?.plusMinus.toFixed(3)} mΩ, typical ${pack.typicalMohm.toFixed(2)} mΩ`,
          )
        }
        wrong += cellsTold.filter((each) => each.cell !== oddOnes.get(n)).length > 0 ? 1 : 0
      } else if (cellsTold.length > 0) wrong++
    })
  }
  console.log(
    `kits of 12 with two odd cars (a joint of ${oddMohm} mΩ), estimates: ${named} of ${odd} named; other cars or cells named in ${wrong} of ${cars} cars (stated: at most 4 in 100)`,
  )
}

const packOf = ({ drive, vehicle }: Measured): PackReading | null => {
  const answers = runAll(gatherFacts(drive, vehicle), [{ name: 'cells', run: cells }])
  return packReading({ cells: answers.flatMap((answer) => answer.sections?.cells ?? []) })
}

/** One car of either simulator, again and again: other roads, other warmth, a joint that grows or none. */
function wholeDrive(
  model: 'first' | 'second',
  seed: number,
  drive: number,
  faults: readonly Fault[],
): Measured {
  const random = new Random(74000 + 100 * seed + drive)
  const startC = season(drive + seed, random)
  if (model === 'first') {
    const base = randomCase({ seed: 600000 + seed, faults: () => [] })
    const pack = { ...base.car!.pack, startSoc: random.between(0.45, 0.8) }
    const heat = { ...base.car!.heat, startC, ambientC: startC - 2 }
    const kind = random.pick(['urban', 'mixed', 'rural'] as const)
    const route = { kind, durationS: random.between(300, 500) }
    return simulate({ ...base, faults, car: { ...base.car, pack, heat }, route })
  }
  const road = {
    phases: random.pick([
      [0, 1],
      [0, 1, 2],
      [1, 2],
    ]),
    slopePercent: random.pick([0, 2, 4]),
    haste: random.between(0.8, 1.4),
  }
  const build = {
    cells: { startSoc: random.between(0.45, 0.8) },
    heat: { startC, ambientC: startC - 2 },
  }
  const base = secondCase({ seed: 600000 + seed, durationS: [300, 500], road, build })
  return simulateSecond({ ...base, faults })
}

function whole(): void {
  for (const model of ['first', 'second'] as const) {
    let [asked, told, foundOn, growthOf] = [0, 0, [] as number[], [] as string[]]
    for (let seed = from; seed < from + count; seed++) {
      const readings: PackReading[] = []
      let first = 0
      const cell = 9
      for (let d = 0; d < 6; d++) {
        const pack = packOf(wholeDrive(model, seed, d, [{ kind: 'joint', cell, ohm: 0.00005 + 0.00002 * d }]))
        if (!pack) continue
        readings.push(pack)
        const change = changeTest(readings)
        if (!change) continue
        const own = change.cells.find((each) => each.cell === cell)
        if (own?.changed && first === 0) first = d + 1
        const others = change.cells.filter((each) => each.changed && each.cell !== cell)
        asked += change.cells.length - 1
        told += others.length
        if (others.length > 0)
          console.log(
            `  FALSE ${model} car ${seed} drive ${d + 1}: ${others.map((each) => `${each.cell} ${each.stepMohm.toFixed(3)} ± ${each.stepPlusMinus.toFixed(3)} slope ${each.slopeMohm?.toFixed(4)} ± ${each.slopePlusMinus?.toFixed(4)}`).join(', ')}`,
          )
        if (d === 5 && own) growthOf.push(`${own.slopeMohm?.toFixed(3)} ± ${own.slopePlusMinus?.toFixed(3)}`)
      }
      foundOn.push(first)
    }
    console.log(
      `${model} simulator, whole drives: growth of 0.02 mΩ a drive found on drive ${foundOn.join(', ')} (0: not), read ${growthOf.join('; ')} mΩ a drive; other cells told ${told} of ${asked}`,
    )
  }
}

if (process.argv.includes('whole')) whole()
else {
  healthyCars()
  growing(0.25)
  growing(1)
  kits(0.28)
  kits(0.4)
}

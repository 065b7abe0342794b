import { thermalFit } from '../../src/heat/models/thermal-fit.ts'
import { cooling } from '../../src/heat/questions/cooling.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { heatedDrive, seeded } from '../heat/two-store-drive.ts'

/**
 * Modules against their group, on one heat store and on two: how often the interval holds the truth, what is found from
 * 1.5 times on, and what healthy drives are accused of; with the vehicle file and without.
 *
 *     npm run study:cooling -- [drives a line, default 30]
 */
const drives = Number(process.argv[2] ?? 30)
const from = Number(process.argv[3] ?? 1)

for (const stores of [1, 2] as const)
  for (const named of [true, false]) {
    let covered = 0
    let all = 0
    let found = 0
    let over = 0
    let wrong = 0
    let untold = 0
    let width = 0
    const off: number[] = []
    const healthy = { covered: 0, all: 0, accused: 0 }
    for (let seed = from; seed < from + drives; seed++) {
      const random = seeded(7919 * seed + stores)
      const modules = [4, 6, 8, 12][Math.floor(4 * random())]!
      const factor = 1.6 + 1.6 * random()
      const poor = { module: 1 + Math.floor(modules * random()), factor }
      const car = {
        stores,
        modules,
        minutes: 15 + 25 * random(),
        stepC: [0.1, 0.5, 0.5, 1][Math.floor(4 * random())]!,
        coolantLogged: random() < 0.8,
      }
      for (const ill of [true, false]) {
        const { drive, vehicle, ratio } = heatedDrive(
          { ...car, poor: ill ? poor : null },
          100 * seed + stores,
        )
        const facts = gatherFacts(drive, named ? vehicle : {})
        const rows = facts.once(thermalFit)!.modules
        const accused = cooling(facts).findings.map(
          (each) => each.subject.index ?? Number(each.subject.name?.match(/\d+$/)?.[0]),
        )
        if (ill) {
          const row = rows[poor.module - 1]!
          const truth = ratio[poor.module - 1]!
          if (row.ratio === null) untold++
          else {
            all++
            const held = Math.abs(row.ratio - truth) <= row.ratioPlusMinus!
            if (held) covered++
            off.push(Math.log(row.ratio / truth))
            width += row.ratioPlusMinus! / row.ratio
            if (process.env.EACH)
              console.log(
                stores,
                named,
                seed,
                `m${modules} ${car.minutes.toFixed(0)}min step${car.stepC} cool${car.coolantLogged}`,
                truth.toFixed(2),
                row.ratio.toFixed(2),
                '±',
                row.ratioPlusMinus!.toFixed(2),
                held ? '' : 'OUT',
                accused.join(),
              )
          }
          if (truth >= 1.6) {
            over++
            if (accused.includes(poor.module)) found++
          }
          if (accused.some((each) => each !== poor.module)) wrong++
        } else {
          if (accused.length > 0) healthy.accused++
          rows.forEach((row, m) => {
            if (row.ratio === null) return
            healthy.all++
            if (Math.abs(row.ratio - ratio[m]!) <= row.ratioPlusMinus!) healthy.covered++
          })
        }
      }
    }
    const mean = off.reduce((sum, each) => sum + each, 0) / off.length
    const spread = Math.sqrt(off.reduce((sum, each) => sum + (each - mean) ** 2, 0) / off.length)
    console.log(
      `${stores} store(s), ${named ? 'vehicle file' : 'without it  '}: poor module covered ${covered} of ${all}, off by ${(100 * mean).toFixed(1)} ± ${(100 * spread).toFixed(1)} %, half width ${((100 * width) / all).toFixed(0)} %, found ${found} of ${over}, another accused ${wrong}, not told ${untold}; healthy modules covered ${healthy.covered} of ${healthy.all}, healthy drives accused ${healthy.accused} of ${drives}`,
    )
  }

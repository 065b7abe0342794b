import { selfHeating } from '../../src/heat/questions/self-heating.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { Random } from '../simulator/random.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'

/**
 * Packs that warm by themselves after key-off on random cars of the second simulator, and healthy ones whose heat soaks
 * outwards after a hard drive: found, and accused; with the vehicle file and without.
 *
 *     npm run study:self-heating -- [drives, default 20] [first seed]
 */
const drives = Number(process.argv[2] ?? 20)
const from = Number(process.argv[3] ?? 1)
const tally = { found: 0, foundBare: 0, wrong: 0, healthy: 0, healthyBare: 0, rate: [] as number[] }
for (let seed = from; seed < from + drives; seed++) {
  const random = new Random(seed).fork('self-heating')
  const kelvinMin = random.between(1.4, 4)
  for (const ill of [true, false]) {
    let module = 0
    const options = secondCase({
      seed,
      durationS: [120, 240],
      // by the contract one sensor alone proves nothing
      build: { heat: { sensorsPerModule: 2 } },
      faults: (build, pick) => {
        module = pick.whole(1, build.cells.perModule.length)
        return ill ? [{ kind: 'self-heating', module, kelvinMin }] : []
      },
      road: { haste: 1.6, slopePercent: 7 },
    })
    const { drive, vehicle } = simulateSecond({
      ...options,
      run: { ...options.run, restS: random.between(300, 600) },
    })
    for (const named of [true, false]) {
      const { findings } = selfHeating(gatherFacts(drive, named ? vehicle : {}))
      if (ill) {
        const [first] = findings
        if (first) named ? tally.found++ : tally.foundBare++
        if (named && findings.some((each) => each.subject.index !== module)) tally.wrong++
        if (named && first) tally.rate.push(first.value! / kelvinMin)
        if (named && !first)
          console.log(`missed: seed ${seed}, ${kelvinMin.toFixed(1)} K/min in module ${module}`)
      } else if (findings.length > 0) named ? tally.healthy++ : tally.healthyBare++
    }
  }
}
const mean = tally.rate.reduce((sum, each) => sum + each, 0) / tally.rate.length
console.log(
  `warming by itself: found ${tally.found} of ${drives} (${tally.foundBare} without the vehicle file), another module named ${tally.wrong}, rate read ${mean.toFixed(2)} of the true one; healthy after hard driving: accused ${tally.healthy} of ${drives} (${tally.healthyBare})`,
)

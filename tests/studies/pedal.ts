/**
 * Torque with the pedal released on the second model: every way of running away, and healthy drives with cruise
 * control, creep and hill hold; what is said, with and without the vehicle file.
 *
 *     npx tsx tests/studies/pedal.ts [drives a way] [first seed]
 */
import type { Vehicle } from '../../shared/vehicle.ts'
import { torqueReleased } from '../../src/pedal/questions/torque-released.ts'
import { torqueSignsAgree } from '../../src/pedal/questions/torque-signs.ts'
import { torqueUnrequested } from '../../src/pedal/questions/torque-unrequested.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import type { Fault } from '../simulator/faults.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'

type Runaway = Extract<Fault, { kind: 'runaway' }>
const WAYS: readonly (Runaway['way'] | 'healthy')[] = [
  'healthy',
  'stuck',
  'with-brake',
  'rising',
  'low-speed',
  'coasting',
  'beyond-request',
  'opposite',
]
const drives = Number(process.argv[2] ?? 4)
const seed0 = Number(process.argv[3] ?? 1)
const only = process.argv[4]

for (const way of WAYS.filter((each) => !only || each === only)) {
  const counts: Record<string, number> = {}
  for (let k = 0; k < drives; k++) {
    const seed = seed0 + k
    const faults: Fault[] = way === 'healthy' ? [] : [{ kind: 'runaway', way, nm: 45, atS: 60, lenS: 6 }]
    const functions = {
      cruise: seed % 2 === 0,
      creep: seed % 3 === 0,
      hold: seed % 3 === 1,
      shown: seed % 5 === 0,
      declared: seed % 4 === 0,
    }
    const made = simulateSecond({ seed, build: { functions }, road: { durationS: 400 }, faults })
    if (way !== 'healthy' && made.run.runaways.length === 0) {
      counts['did not happen'] = (counts['did not happen'] ?? 0) + 1
      continue
    }
    for (const [name, vehicle] of [
      ['with file', made.vehicle],
      ['without', {} as Vehicle],
    ] as const) {
      const facts = gatherFacts(made.drive, vehicle)
      const findings = [torqueReleased, torqueUnrequested, torqueSignsAgree].flatMap(
        (ask) => ask(facts).findings,
      )
      const said =
        findings.length === 0
          ? torqueReleased(facts).questions[0]!.state
          : findings.map((each) => `${each.kind} ${each.severity}`).join(' + ')
      counts[`${name}: ${said}`] = (counts[`${name}: ${said}`] ?? 0) + 1
      const odd = findings.some((each) => (way === 'healthy' ? each.severity !== 'note' : false))
      const missed = way !== 'healthy' && !findings.some((each) => each.severity === 'stop')
      if (odd || missed) {
        console.log(
          `  seed ${seed} ${name} ${JSON.stringify(functions)} ${JSON.stringify(made.run.runaways)}`,
        )
        for (const each of findings) console.log(`    ${each.severity} ${each.headline} | ${each.reason}`)
        if (findings.length === 0)
          console.log(
            `    ${torqueReleased(facts).questions[0]!.why} | ${torqueUnrequested(facts).questions[0]!.why}`,
          )
      }
    }
  }
  console.log(way, counts)
}

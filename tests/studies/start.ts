import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { losses } from '../../src/start/models/start-losses.ts'
import { START_CHAIN } from '../../src/start/models/start-steps.ts'
import { judgedAttempts } from '../../src/start/models/start-verdicts.ts'
import { chargeStart } from '../../src/start/questions/charge-start.ts'
import { checkSheet } from '../../src/start/questions/check-sheet.ts'
import { contactors } from '../../src/start/questions/contactors.ts'
import { driveLost } from '../../src/start/questions/drive-lost.ts'
import { faultReported } from '../../src/start/questions/fault-reported.ts'
import { isolation } from '../../src/start/questions/isolation.ts'
import { linkVoltage } from '../../src/start/questions/link-voltage.ts'
import { loops } from '../../src/start/questions/loops.ts'
import { precharge } from '../../src/start/questions/precharge.ts'
import { prechargeTime } from '../../src/start/questions/precharge-time.ts'
import { pullInDips } from '../../src/start/questions/pull-in-dips.ts'
import { startSteps } from '../../src/start/questions/start-chain.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { simulate } from '../simulator/simulate.ts'
import { disagreements } from './start-agreement.ts'
import {
  AT_START,
  type FamilyCase,
  familyCase,
  LAYOUTS,
  ORDER,
  WHILE_DRIVING,
  withoutChannels,
} from './start-family.ts'

/**
 * Each step failing at start and while driving, one and two at a time, on four kinds of logs: how often is the first
 * failed step right?
 *
 *     npm run study:start -- [seeds a case, default 2]
 */
export function pairsOf(steps: readonly string[]): string[][] {
  return [...steps.map((step) => [step]), ...steps.flatMap((a, i) => steps.slice(i + 1).map((b) => [a, b]))]
}

/** What was said to have failed first, in words; and whether it is right. */
export function answerOf(each: FamilyCase): { said: string; right: boolean } {
  const facts = gatherFacts(each.drive, each.vehicle)
  if (each.when === 'start') {
    const noDrive = startSteps(facts).findings.find((finding) => finding.kind === 'no-drive')
    const said =
      noDrive?.subject.name ??
      facts
        .once(judgedAttempts)
        .map((a) => `${a.reached}/${a.firstFailed}`)
        .join(',')
    return { said, right: said === each.broken[0] }
  }
  const loss = facts.once(losses)[0]
  if (!loss) return { said: 'no loss', right: false }
  const said = loss.events[0]!.step
  return { said, right: said === each.broken[0] }
}

/**
 * What is wrong with the answer to a drive of which half the channels are gone: a step accused that the log cannot
 * show, or one that truly held, or a failed attempt without a sheet. Empty where it is honest.
 */
export function dishonest(each: FamilyCase, drive: Drive): string[] {
  const facts = gatherFacts(drive, each.vehicle)
  const wrong: string[] = []
  const firstBroken = ORDER.indexOf(each.broken[0]!)
  for (const judged of facts.once(judgedAttempts)) {
    for (const { step, verdict } of judged.steps)
      if (verdict.held === false && !step.channels.some((id) => drive.channels.has(id)))
        wrong.push(`${step.name} accused without a channel that shows it`)
    const name = judged.firstFailed
    if (name !== null && ORDER.indexOf(name) < firstBroken)
      wrong.push(`${name} accused, ${each.broken[0]} is broken`)
    if (name !== null && !each.broken.includes(name) && CONDITIONS.has(name))
      wrong.push(`${name} accused, it held`)
  }
  const noDrive = startSteps(facts).findings.some(({ kind }) => kind === 'no-drive')
  const sheet = checkSheet(facts).sections?.check_sheet ?? []
  if (noDrive && sheet.every((line) => line.known !== null)) wrong.push('no line left on the sheet')
  return wrong
}

/** The analyses of this study's subject. */
const OWN = [
  startSteps,
  precharge,
  prechargeTime,
  linkVoltage,
  contactors,
  loops,
  pullInDips,
  driveLost,
  isolation,
  faultReported,
  chargeStart,
]

/** Findings above `note` on a healthy random drive: whole, without vehicle file, and with half of its channels. */
export function falseAlarms(seed: number): string[] {
  const slow = { vehicleHz: 1, switchHz: 1, cellHz: 1, currentHz: 1 }
  const made = simulate(
    randomCase({
      seed,
      durationS: [60, 150],
      car: { precharge: { layout: seed % 4 === 0 ? 'negative' : 'positive' } },
      style: seed % 3 === 0 ? slow : {},
    }),
  )
  const half = (label: string): Drive => withoutChannels(made.drive, new Random(seed).fork(label), 0.5)
  const views: [string, Drive, Vehicle][] = [
    ['whole', made.drive, made.vehicle],
    ['without vehicle file', made.drive, {}],
    ['half the channels', half('a'), made.vehicle],
    ['half the channels, without vehicle file', half('b'), {}],
  ]
  return views.flatMap(([what, drive, vehicle]) => {
    const facts = gatherFacts(drive, vehicle)
    return OWN.flatMap((run) => run(facts).findings)
      .filter((finding) => finding.severity !== 'note')
      .map(
        (finding) =>
          `healthy drive ${seed}, ${what}: ${finding.kind} ${finding.subject.name ?? ''} ${finding.value}`,
      )
  })
}

const CONDITIONS = new Set(START_CHAIN.filter((step) => step.role === 'condition').map((step) => step.name))

function main(): void {
  const bare = process.argv.includes('--without-vehicle')
  const seeds = Number(process.argv[2] ?? 2)
  let all = 0
  let right = 0
  let agree = 0
  for (const layout of Object.keys(LAYOUTS))
    for (const [when, steps] of [
      ['start', AT_START],
      ['driving', WHILE_DRIVING],
    ] as const) {
      let n = 0
      let good = 0
      for (const broken of pairsOf(steps))
        for (let seed = 1; seed <= seeds; seed++) {
          const made = familyCase(seed, layout, when, broken)
          const each = bare ? { ...made, vehicle: {} } : made
          const { said, right: ok } = answerOf(each)
          const apart = disagreements(each.drive, each.vehicle)
          if (apart.length === 0) agree++
          else console.log(`  ${each.name}: ${apart.join('; ')}`)
          n++
          if (ok) good++
          else console.log(`  ${each.name}: said ${said}`)
        }
      console.log(`${layout}, ${when}: ${good} of ${n}`)
      all += n
      right += good
    }
  console.log(`verdict, first step told, sheet and first_failed agree in ${agree} of ${all}`)
  let honest = 0
  let asked = 0
  for (const layout of Object.keys(LAYOUTS))
    for (const broken of pairsOf(AT_START))
      for (let seed = 1; seed <= seeds; seed++) {
        const each = familyCase(seed, layout, 'start', broken)
        const drive = withoutChannels(each.drive, new Random(seed).fork(each.name), 0.5)
        const wrong = dishonest(each, drive)
        asked++
        if (wrong.length === 0) honest++
        else console.log(`  half the channels, ${each.name}: ${[...new Set(wrong)].join('; ')}`)
      }
  let loud = 0
  for (let seed = 1; seed <= 20 * seeds; seed++)
    for (const alarm of falseAlarms(1000 + seed)) {
      loud++
      console.log(`  ${alarm}`)
    }
  console.log(`false alarms on ${20 * seeds} healthy drives, each seen four ways: ${loud}`)
  console.log(`half the channels gone: honest in ${honest} of ${asked}`)
  console.log(`first failed step right in ${right} of ${all} (${((100 * right) / all).toFixed(1)} %)`)
}

if (process.argv[1] === import.meta.filename) main()

import { appendFileSync, existsSync, readFileSync } from 'node:fs'
import type { Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { reviewDrive } from '../../src/review/review.ts'
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
import { disagreementsIn } from './start-agreement.ts'
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
 *     npm run study:start -- [seeds a case, default 2] [--without-vehicle] [--layouts=fast,ten hertz,one hertz,events]
 *       [--parts=cases,half,healthy] [--sum=FILE: adds this part to the file and prints the sum of all parts in it]
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

/** What a part of the study counted, by name; parts add up. */
type Tally = Record<string, number>

/**
 * The cases of some layouts: the first failed step, whether the whole review agrees with itself, and whether a start that
 * came to nothing is found.
 */
function cases(layouts: readonly string[], seeds: number, bare: boolean, tally: Tally): void {
  for (const layout of layouts)
    for (const [when, steps] of [
      ['start', AT_START],
      ['driving', WHILE_DRIVING],
    ] as const)
      for (const broken of pairsOf(steps))
        for (let seed = 1; seed <= seeds; seed++) {
          const made = familyCase(seed, layout, when, broken)
          const each = bare ? { ...made, vehicle: {} } : made
          const review = reviewDrive(each.drive, each.vehicle)
          const apart = disagreementsIn(review)
          count(tally, 'asked', 1)
          count(tally, 'agree', apart.length === 0 ? 1 : 0)
          if (apart.length > 0) console.log(`  ${each.name}: ${apart.join('; ')}`)
          const { said, right } = answerOf(each)
          count(tally, 'first step right', right ? 1 : 0)
          if (!right) console.log(`  ${each.name}: said ${said}`)
          if (when !== 'start') continue
          const found = review.verdict.state === 'cannot-drive'
          count(tally, 'starts', 1)
          count(tally, 'starts found', found ? 1 : 0)
          if (!found) console.log(`  ${each.name}: not found, ${review.verdict.sentence}`)
          if (!NOTHING_CLOSES.has(each.broken[0]!)) continue
          count(tally, 'nothing closes', 1)
          count(tally, 'nothing closes, found', found ? 1 : 0)
        }
}

/** Steps whose failing keeps every contactor open. */
const NOTHING_CLOSES = new Set(['supply', 'plug', 'interlock', 'inertia', 'battery'])

/** Half of the channels gone: what is said is honest; healthy drives, each seen four ways: nothing above a note. */
function halfGone(layouts: readonly string[], seeds: number, tally: Tally): void {
  for (const layout of layouts)
    for (const broken of pairsOf(AT_START))
      for (let seed = 1; seed <= seeds; seed++) {
        const each = familyCase(seed, layout, 'start', broken)
        const drive = withoutChannels(each.drive, new Random(seed).fork(each.name), 0.5)
        const wrong = dishonest(each, drive)
        count(tally, 'half gone', 1)
        count(tally, 'half gone, honest', wrong.length === 0 ? 1 : 0)
        if (wrong.length > 0)
          console.log(`  half the channels, ${each.name}: ${[...new Set(wrong)].join('; ')}`)
      }
}

function healthy(seeds: number, tally: Tally): void {
  for (let seed = 1; seed <= 20 * seeds; seed++) {
    const alarms = falseAlarms(1000 + seed)
    count(tally, 'healthy', 1)
    count(tally, 'false alarms', alarms.length)
    for (const alarm of alarms) console.log(`  ${alarm}`)
  }
}

function count(tally: Tally, name: string, by: number): void {
  tally[name] = (tally[name] ?? 0) + by
}

function printed(tally: Tally): string {
  const of = (part: string, whole: string): string => `${tally[part] ?? 0} of ${tally[whole] ?? 0}`
  return [
    `verdict, first step told, sheet and first_failed agree in ${of('agree', 'asked')}`,
    `first failed step right in ${of('first step right', 'asked')}`,
    `starts that failed are found in ${of('starts found', 'starts')}, with nothing closing in ${of('nothing closes, found', 'nothing closes')}`,
    `half the channels gone: honest in ${of('half gone, honest', 'half gone')}`,
    `false alarms on ${tally.healthy ?? 0} healthy drives, each seen four ways: ${tally['false alarms'] ?? 0}`,
  ].join('\n')
}

/** Earlier parts, a line each. */
function summed(file: string): Tally {
  const whole: Tally = {}
  for (const line of existsSync(file) ? readFileSync(file, 'utf8').trim().split('\n') : [])
    for (const [name, by] of Object.entries(JSON.parse(line) as Tally)) count(whole, name, by)
  return whole
}

function main(): void {
  const argv = process.argv.slice(2)
  const option = (name: string): string | undefined =>
    argv.find((each) => each.startsWith(`--${name}=`))?.slice(name.length + 3)
  const seeds = Number(argv.find((each) => /^\d+$/.test(each)) ?? 2)
  const layouts = option('layouts')?.split(',') ?? Object.keys(LAYOUTS)
  const parts = option('parts')?.split(',') ?? ['cases', 'half', 'healthy']
  const tally: Tally = {}
  if (parts.includes('cases')) cases(layouts, seeds, argv.includes('--without-vehicle'), tally)
  if (parts.includes('half')) halfGone(layouts, seeds, tally)
  if (parts.includes('healthy')) healthy(seeds, tally)
  const file = option('sum')
  if (file !== undefined) appendFileSync(file, `${JSON.stringify(tally)}\n`)
  console.log(printed(file === undefined ? tally : summed(file)))
}

if (process.argv[1] === import.meta.filename) main()

import type { Drive } from '../../shared/drive.ts'
import { checkSheet } from '../../src/analyses/check-sheet.ts'
import { gatherFacts } from '../../src/analyses/run-all.ts'
import { startSteps } from '../../src/analyses/start-chain.ts'
import { losses } from '../../src/models/start-losses.ts'
import { START_CHAIN } from '../../src/models/start-steps.ts'
import { judgedAttempts } from '../../src/models/start-verdicts.ts'
import { Random } from '../simulator/random.ts'
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
  const noDrive = startSteps(facts).findings.length > 0
  const sheet = checkSheet(facts).sections?.check_sheet ?? []
  if (noDrive && sheet.every((line) => line.known !== null)) wrong.push('no line left on the sheet')
  return wrong
}

const CONDITIONS = new Set(START_CHAIN.filter((step) => step.role === 'condition').map((step) => step.name))

function main(): void {
  const bare = process.argv.includes('--without-vehicle')
  const seeds = Number(process.argv[2] ?? 2)
  let all = 0
  let right = 0
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
          n++
          if (ok) good++
          else console.log(`  ${each.name}: said ${said}`)
        }
      console.log(`${layout}, ${when}: ${good} of ${n}`)
      all += n
      right += good
    }
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
  console.log(`half the channels gone: honest in ${honest} of ${asked}`)
  console.log(`first failed step right in ${right} of ${all} (${((100 * right) / all).toFixed(1)} %)`)
}

if (process.argv[1] === import.meta.filename) main()

import { beforeAll, describe, expect, test } from 'vitest'
import { channelLabel } from '../../shared/channels.ts'
import { channelNamed, type Drive } from '../../shared/drive.ts'
import { type Review, reviewSchema } from '../../shared/review.ts'
import { joinParts } from '../../src/review/join-parts.ts'
import { askPart, factsOfParts } from '../../src/review/part.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { brokenSentences } from '../helpers/broken-sentences.ts'
import { onOwnClocks } from '../helpers/own-clocks.ts'
import { type Simulated, simulate } from '../simulator/simulate.ts'

/** Three logs of one drive without a common clock, each with another fault: what the simulator put in is the truth. */
const BATTERY = {
  name: 'battery.csv',
  holds: /^(cell_voltage|module_temp|pack_|soc|charge_limit|discharge)/,
  startsAtS: 0,
}
const CONTROLS = { name: 'controls.csv', holds: /^(pedal|brake|selector)/, startsAtS: 50 }
const SUPPLY = {
  name: 'supply.csv',
  holds: /^(lv_|dcdc|isolation|key|interlock|charge_plug|inertia|contactor|link|drive_ready)/,
  startsAtS: 700,
}

let made: Simulated
let drive: Drive
let whole: Review
beforeAll(() => {
  made = simulate({
    seed: 7,
    car: { pack: { cellsPerModule: [12, 12, 12, 12] } },
    route: { kind: 'mixed', durationS: 200 },
    faults: [
      { kind: 'joint', cell: 40, ohm: 0.0006 },
      { kind: 'pedal-drift', points: 15, fromS: 80, toS: 110 },
      { kind: 'interlock-open', fromS: 140, toS: 142 },
    ],
  })
  drive = onOwnClocks(made.samples, [BATTERY, CONTROLS, SUPPLY], made.vehicle)
  whole = reviewDrive(drive, made.vehicle)
})

const above = (review: Review): string[] =>
  review.findings
    .filter(({ severity }) => severity !== 'note')
    .map(({ kind, subject }) => `${kind} ${subject.index ?? subject.name ?? ''}`.trim())
    .sort()

/** Sentences that call a channel missing which one of the drive's logs holds. */
function wronglyMissing(review: Review, drive: Drive): string[] {
  const labels = [...new Set([...drive.channels.keys()].map((id) => id.replace(/\.\d+$/, '')))].flatMap(
    (id) => [id, channelLabel(id).toLowerCase()],
  )
  return [
    ...review.questions.flatMap(({ question, why, missing }) => [
      ...missing.filter((id) => channelNamed(drive.channels, id) || channelNamed(drive.channels, `${id}.1`)),
      ...lists(`${question}: ${why}`),
    ]),
    ...review.starts.flatMap(({ steps }) => steps.flatMap(({ why }) => lists(why))),
    ...review.findings.flatMap(({ reason }) => lists(reason)),
  ]
  function lists(text: string): string[] {
    const [, named = ''] = /(?:not logged|not in the log)[:\s(]+([^;.)]*)/i.exec(text) ?? []
    const words = named.toLowerCase().split(/, | and /)
    return words.some((each) => labels.includes(each)) ? [text] : []
  }
}

describe('logs that share no clock', () => {
  test('three logs, a fault in each: all three are found, once each, with and without the vehicle file', () => {
    expect(drive.files.map(({ clock }) => clock.own ?? null)).toEqual([null, 'controls.csv', 'supply.csv'])
    for (const review of [whole, reviewDrive(drive, {})]) {
      expect(above(review)).toEqual([
        'drive-lost interlock',
        'interlock-open interlock',
        'joint-resistance-high 40',
        'pedal-mismatch',
      ])
      expect(reviewSchema.safeParse(review).error?.issues ?? []).toEqual([])
      expect(brokenSentences(review)).toEqual([])
      expect(wronglyMissing(review, drive)).toEqual([])
    }
  })

  test('each question once; found, looked for and not assessed by the log that can tell', () => {
    const { questions, findings, energy, starts } = whole
    const asked = (words: string) => questions.filter(({ question }) => question.includes(words))
    expect(new Set(questions.map(({ question }) => question)).size).toBe(questions.length)
    for (const { question } of questions.filter(({ state }) => state === 'found'))
      expect(findings.map((each) => each.question)).toContain(question)
    expect(asked('a joint or sense tap')).toMatchObject([{ state: 'found' }])
    expect(asked('Did the 12 V supply stay up')).toMatchObject([{ state: 'nothing-found' }])
    // isolation in ohms a volt takes both logs, and their clocks never meet
    expect(asked('isolated from the body')).toMatchObject([{ state: 'not-assessed', missing: [] }])
    expect(asked('isolated from the body')[0]!.why).toMatch(
      /isolation resistance \(supply\.csv\) and pack voltage \(battery\.csv\) read together/,
    )
    expect(asked('How much energy')).toEqual([])
    expect(energy.out_wh).toBeGreaterThan(100)
    expect(starts[0]!.steps.find(({ name }) => name === 'selector')!.why).toMatch(
      /in controls\.csv, on another clock/,
    )
    const mismatch = findings.find(({ kind }) => kind === 'pedal-mismatch')!
    expect(mismatch.span_s[0]).toBeCloseTo(132, -0.5)
    expect(mismatch.reason).toMatch(/Its times are those of controls\.csv/)
  })

  test('one fault that two logs hold is one finding, which names both', () => {
    const part = (name: string) =>
      askPart(
        factsOfParts(onOwnClocks(made.samples, [{ ...CONTROLS, name }], made.vehicle), made.vehicle)[0]!,
      )
    const [first, second] = [part('controls.csv'), part('again.csv')]
    const { findings } = joinParts([first, second])
    expect(findings.map(({ kind }) => kind)).toEqual(first.findings.map(({ kind }) => kind))
    expect(findings.find(({ kind }) => kind === 'pedal-mismatch')!.reason).toMatch(/In again\.csv too: The/)
  })

  test('two logs that share nothing with the first and something with each other are one part', () => {
    const tracks = { name: 'tracks.csv', holds: /^pedal_/, startsAtS: 9000 }
    const { files } = onOwnClocks(made.samples, [SUPPLY, CONTROLS, tracks], made.vehicle)
    expect(files.map(({ clock }) => clock.own ?? null)).toEqual([null, 'controls.csv', 'controls.csv'])
    expect(files[2]!.clock.offset_s - files[1]!.clock.offset_s).toBeCloseTo(50 - 9000, 1)
  })

  test('a log that shows the key alone does not say that nothing came through', () => {
    const key = { name: 'key.csv', holds: /^(key_on|bms_state)$/, startsAtS: 100 }
    const rest = { ...SUPPLY, holds: /^(lv_|interlock|contactor|link|drive_ready|speed)/ }
    const review = reviewDrive(onOwnClocks(made.samples, [rest, key], made.vehicle), made.vehicle)
    expect(review.findings.filter(({ kind }) => kind === 'no-drive')).toEqual([])
    expect(review.questions.filter(({ question }) => question.startsWith('Which step'))).toHaveLength(1)
  })
})

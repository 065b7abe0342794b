import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { catalogueEntry } from '../../shared/channels.ts'
import { channelNamed, type Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { exitStatus, reviewDrive } from '../../src/review/review.ts'
import { Random } from '../simulator/random.ts'
import type { Written } from '../simulator/writers/columns.ts'
import type { Variant } from './reference/make.ts'
import { randomMix } from './reference/mixes.ts'
import type { Scene } from './reference/scene.ts'
import { VARIANTS } from './reference/variants.ts'
import type { WrittenLog } from './reference/write.ts'

/**
 * The reference drives (`../shared/logs`, physics of another hand) changed in ways that must not change what is found, or
 * change it in a known way: names, units, layouts, clocks, rates, holes, missing channels, other packs, faults by
 * formula. Each is written, read back and reviewed with and without the vehicle file. A line a thing that is wrong:
 *
 *     NAMED    a column understood as another channel       LOST   a column not understood
 *     VALUES   a channel whose values are not those written  MISS   an expected finding absent or elsewhere
 *     OUT      its interval does not hold the truth          FALSE  a finding above `note` that nothing explains
 *     BROKE    an analysis threw                             EXIT   the exit status is not the one due
 *
 *     npm run study:variants -- [group or name …] [--mix=N] [--seed=N] [--keep=DIR]
 */
interface Outcome {
  readonly lines: string[]
}

async function judge(
  variant: Variant,
  scene: Scene,
  files: readonly WrittenLog[],
  paths: readonly string[],
  signals: string | null,
  bare: boolean,
): Promise<Outcome> {
  const lines: string[] = []
  const say = (what: string, text: string): void => void lines.push(`${what}${bare ? ' bare' : ''} ${text}`)
  const vehicle: Vehicle = bare ? {} : scene.vehicle
  let drive: Drive
  let review: Review
  try {
    drive = await openDrive(paths, { ...(signals ? { signals } : {}), vehicle })
    review = reviewDrive(drive, vehicle)
  } catch (error) {
    say('UNREAD', (error as Error).message)
    return { lines }
  }
  if (!bare) named(drive, scene, files, say)
  const loud = review.findings.filter((finding) => finding.severity !== 'note')
  for (const want of scene.expect) {
    if (bare && [want.kind, want.name ?? ''].some((each) => variant.needsFile?.includes(each))) continue
    const got = loud.find(
      (finding) =>
        finding.kind === want.kind &&
        (want.index === undefined || finding.subject.index === want.index) &&
        (want.name === undefined || finding.subject.name === want.name),
    )
    const label = `${want.kind} ${want.index ?? want.name ?? ''}`
    if (!got) {
      const near = review.findings.find((finding) => finding.kind === want.kind)
      const asked = review.questions.find(
        (each) => each.state === 'not-assessed' && each.question.includes(want.kind.split('-')[0]!),
      )
      say(
        'MISS',
        `${label}${near ? `: a ${near.severity} at ${near.subject.index ?? near.subject.name ?? ''}, ${near.value}` : asked ? `: ${asked.why}` : ''}`,
      )
      continue
    }
    if (want.value === undefined) continue
    const figure = `${label}: ${got.value?.toFixed(3)} [${got.low?.toFixed(3)}, ${got.high?.toFixed(3)}] for ${want.value}`
    if (Math.abs((got.value ?? Number.NaN) / want.value - 1) > (want.tol ?? 0.2)) say('MISS', figure)
    else if (!(got.low! <= want.value && want.value <= got.high!)) say('OUT', figure)
  }
  const allowed = new Set([...scene.allow, ...scene.expect.map((want) => want.kind)])
  for (const each of loud)
    if (!allowed.has(each.kind))
      say(
        'FALSE',
        `${each.severity} ${each.kind} ${each.subject.index ?? each.subject.name ?? ''} at ${each.span_s[0].toFixed(1)} s, ${each.value} ${each.unit}: ${each.headline}`,
      )
  for (const { why } of review.questions) if (/broke off/.test(why)) say('BROKE', why)
  if (scene.exit !== undefined && exitStatus(review) !== scene.exit)
    say('EXIT', `${exitStatus(review)} for ${scene.exit}`)
  if (!bare) for (const text of variant.says?.(review) ?? []) say('SAYS', text)
  return { lines }
}

/** Each written column under its channel, with its values. */
function named(
  drive: Drive,
  scene: Scene,
  files: readonly WrittenLog[],
  say: (what: string, text: string) => void,
): void {
  const groups = new Map<string, string[]>()
  const note = (what: string, id: string, text: string): void => {
    const key = `${what}|${id.replace(/\.\d+$/, '.*')}`
    groups.set(key, [...(groups.get(key) ?? []), text])
  }
  for (const { key } of files)
    for (const [column, id] of key) {
      if (scene.broken?.includes(id)) continue
      const report = drive.reports.find((each) => each.from.endsWith(`: ${column}`))
      if (!report) note('LOST', id, `"${column}" not in the drive`)
      else if (report.id !== id)
        note(catalogueEntry(report.id) ? 'NAMED' : 'LOST', id, `"${column}" as ${report.id}: ${report.why}`)
    }
  for (const signal of scene.signals) {
    if (catalogueEntry(signal.id)?.kind !== 'number' || scene.broken?.includes(signal.id)) continue
    const channel = channelNamed(drive.channels, signal.id)
    if (!channel) continue
    const [want, got] = [middleHalf(signal.values), middleHalf(channel.values)]
    // A current that never flows does not tell its sign.
    if (signal.id === 'pack_current' && want[2]! - want[0]! < 2) continue
    const wide = Math.max(want[2]! - want[0]!, signal.step, 0.02 * Math.abs(want[1]!))
    if (want.some((value, at) => Math.abs(value - got[at]!) > 0.2 * wide + 2 * signal.step))
      note(
        'VALUES',
        signal.id,
        `${signal.id} reads ${got.map((x) => x.toFixed(3))} for ${want.map((x) => x.toFixed(3))}`,
      )
  }
  for (const [key, texts] of groups)
    say(key.split('|')[0]!, `${texts[0]}${texts.length > 1 ? ` (and ${texts.length - 1} more)` : ''}`)
}

/** 5th, 50th and 95th percentile of what can be read. */
function middleHalf(values: Float64Array): number[] {
  const sorted = values.filter((value) => !Number.isNaN(value)).sort()
  return [0.05, 0.5, 0.95].map((share) => sorted[Math.floor(share * (sorted.length - 1))] ?? Number.NaN)
}

async function main(): Promise<void> {
  const args = process.argv.slice(2)
  const option = (name: string): string | undefined =>
    args.find((each) => each.startsWith(`--${name}=`))?.split('=')[1]
  const only = args.filter((each) => !each.startsWith('--'))
  const seed = Number(option('seed') ?? 1)
  const mixes = Number(option('mix') ?? 0)
  const folder = option('keep') ?? mkdtempSync(join(tmpdir(), 'aftermile-variants-'))
  const variants: Variant[] = [
    ...(mixes > 0 && only.length === 0 ? [] : VARIANTS),
    ...Array.from({ length: mixes }, (_, at) => randomMix(seed + at)),
  ]
  const wrong = new Map<string, number>()
  let [reviews, clean] = [0, 0]
  for (const variant of variants) {
    if (only.length > 0 && !only.some((each) => variant.name === each || variant.name.startsWith(`${each}/`)))
      continue
    const random = new Random(seed).fork(variant.name)
    const { scene, files } = await variant.make(random)
    const put = ({ name, bytes }: Written): string => {
      const path = join(folder, `${variant.name.replaceAll(/[^a-z0-9]+/gi, '-')}-${name}`)
      writeFileSync(path, bytes)
      return path
    }
    const paths = files.flatMap((each) => each.logs.map(put))
    const table = files.map((each) => each.signals).find((each) => each !== null)
    const signals = table ? put(table) : null
    if (option('keep')) put({ name: 'car.json', bytes: Buffer.from(JSON.stringify(scene.vehicle)) })
    const lines: string[] = []
    for (const bare of [false, true]) {
      reviews++
      const outcome = await judge(variant, scene, files, paths, signals, bare)
      if (outcome.lines.length === 0) clean++
      for (const line of outcome.lines) {
        const what = line.split(' ')[0]!
        wrong.set(what, (wrong.get(what) ?? 0) + 1)
      }
      lines.push(...outcome.lines)
    }
    console.log(`${lines.length === 0 ? 'ok  ' : 'BAD '} ${variant.name}`)
    for (const line of lines) console.log(`       ${line}`)
    if (!option('keep')) for (const path of [...paths, ...(signals ? [signals] : [])]) rmSync(path)
  }
  if (!option('keep')) rmSync(folder, { recursive: true })
  console.log(`\n${clean} of ${reviews} reviews with nothing wrong; wrong lines:`, Object.fromEntries(wrong))
}

await main()

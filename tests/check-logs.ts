import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'

export interface Truth {
  readonly name: string
  readonly files: readonly string[]
  readonly signals: string | null
  readonly vehicle: string
  readonly expect: readonly {
    readonly kind: string
    readonly index?: number | null
    readonly name?: string
    readonly value?: number
    readonly tol?: number
    readonly when?: readonly [number, number]
  }[]
  readonly allow: readonly string[]
  readonly distance_km: number
  readonly energy_out_wh: number
  readonly energy_in_wh: number
  readonly whole: boolean
  readonly clock: { readonly offset_s: number; readonly drift_ppm: number } | null
}

export const LOGS = join(import.meta.dirname, '../../shared/logs')

const OTHER_PHYSICS = join(import.meta.dirname, '../../shared/other-physics')

/**
 * The drives of a folder with known truth.
 * @throws Error where the folder is missing or holds none: nothing compared is nothing proved
 */
export function truths(root = LOGS): { folder: string; truth: Truth }[] {
  const folders = existsSync(root)
    ? readdirSync(root, { withFileTypes: true })
        .filter((each) => each.isDirectory())
        .map((each) => join(root, each.name))
    : []
  if (folders.length === 0) throw new Error(`${root}: holds no drive with known truth.`)
  return folders.map((folder) => ({
    folder,
    truth: JSON.parse(readFileSync(join(folder, 'truth.json'), 'utf8')) as Truth,
  }))
}

/** One line a folder and expectation: expected against found. Run as a script it prints the table. */
async function main(): Promise<void> {
  const { openDrive } = await import('../src/open/open-drive.ts')
  const { reviewDrive } = await import('../src/review/review.ts')
  const { readVehicleFile } = await import('../src/open/vehicle-file.ts')
  const only = process.argv.slice(2).filter((each) => !each.startsWith('-'))
  const bare = process.argv.includes('--without-vehicle')
  let bad = 0
  let seen = 0
  for (const { folder, truth } of [...truths(), ...truths(OTHER_PHYSICS)]) {
    if (only.length > 0 && !only.includes(truth.name)) continue
    seen++
    try {
      const paths = truth.files.map((file) => join(folder, file))
      const vehicle = bare ? {} : await readVehicleFile(join(folder, truth.vehicle))
      const signals = truth.signals ? { signals: join(folder, truth.signals) } : {}
      const started = performance.now()
      const drive = await openDrive(paths, { ...signals, vehicle })
      const opened = performance.now()
      const review = reviewDrive(drive, vehicle)
      const times = `${(opened - started).toFixed(0)} + ${(performance.now() - opened).toFixed(0)} ms`
      const loud = review.findings.filter((finding) => finding.severity !== 'note')
      console.log(`\n${truth.name}  (import + review ${times})`)
      for (const want of truth.expect) {
        const got = loud.find(
          (finding) =>
            finding.kind === want.kind &&
            (want.index == null || finding.subject.index === want.index) &&
            (want.name === undefined || finding.subject.name === want.name) &&
            (want.when === undefined ||
              (finding.span_s[0] <= want.when[1] && finding.span_s[1] >= want.when[0])),
        )
        const near =
          got !== undefined &&
          (want.value === undefined ||
            Math.abs((got.value ?? Number.NaN) - want.value) <= (want.tol ?? 0.1) * Math.abs(want.value))
        if (!near) bad++
        const figure = got
          ? `${got.value?.toFixed(3)} [${got.low?.toFixed(3)}, ${got.high?.toFixed(3)}] ${got.severity}`
          : 'absent'
        console.log(
          `  ${near ? 'ok  ' : 'MISS'} ${want.kind} ${want.index ?? want.name ?? ''}: ${want.value ?? '-'} → ${figure}`,
        )
      }
      for (const each of loud) {
        // What a unit itself reports is no false alarm on a drive that has a fault.
        const reported = each.kind === 'fault-reported' && truth.expect.length > 0
        const expected =
          reported ||
          each.explained_by !== null ||
          truth.expect.some((want) => want.kind === each.kind) ||
          truth.allow.includes(each.kind)
        if (!expected) {
          bad++
          console.log(
            `  FALSE ${each.severity} ${each.kind} ${each.subject.index ?? each.subject.name ?? ''}: ${each.value} ${each.unit} — ${each.headline}`,
          )
        }
      }
      const compare = (what: string, got: number | null, want: number): void => {
        const off =
          got === null
            ? 'null'
            : `${got.toFixed(3)} (${want === 0 ? '-' : `${((got / want - 1) * 100).toFixed(2)} %`})`
        console.log(`       ${what}: ${want.toFixed(3)} → ${off}`)
      }
      if (truth.whole) {
        compare('distance km', review.drive.distance_km, truth.distance_km)
        compare('energy out Wh', review.energy.out_wh ?? null, truth.energy_out_wh)
        compare('energy in Wh', review.energy.in_wh ?? null, truth.energy_in_wh)
      }
      if (truth.clock)
        for (const file of review.drive.files)
          console.log(
            `       clock of ${file.name}: offset ${file.clock.offset_s.toFixed(3)} s, drift ${file.clock.drift_ppm.toFixed(1)} ppm, ± ${file.clock.plus_minus_s} s (truth: vehicle.csv own = true · (1 + ${truth.clock.drift_ppm}e-6) + ${truth.clock.offset_s})`,
          )
    } catch (error) {
      bad++
      console.log(`\n${truth.name}\n  UNREAD ${(error as Error).message}`)
    }
  }
  if (seen === 0) throw new Error(`No drive is called ${only.join(', ')}.`)
  console.log(`\n${bad === 0 ? `everything as expected in ${seen} drives` : `${bad} not as expected`}`)
  process.exitCode = bad === 0 ? 0 : 1
}

if (process.argv[1] === import.meta.filename) await main()

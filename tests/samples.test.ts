import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { describe, expect, test } from 'vitest'
import { openDrive } from '../src/open/open-drive.ts'
import { readVehicleFile } from '../src/open/vehicle-file.ts'
import { reviewDrive } from '../src/review/review.ts'
import type { Expected } from './simulator/expected.ts'
import { SAMPLES } from './simulator/samples.ts'

const ROOT = join(import.meta.dirname, '../sample-logs')

interface ExpectedFile {
  readonly name: string
  readonly files: readonly string[]
  readonly signals: string | null
  readonly vehicle: string
  readonly expect: readonly Expected[]
  readonly allow: readonly string[]
  readonly distance_km: number
  readonly energy_out_wh: number
  readonly energy_in_wh: number
  readonly clock: { readonly offset_s: number; readonly drift_ppm: number } | null
}

const folders = readdirSync(ROOT, { withFileTypes: true })
  .filter((each) => each.isDirectory())
  .map((each) => each.name)

test('every sample of the simulator has its folder, and no folder is without', () => {
  expect([...folders].sort()).toEqual(SAMPLES.map((sample) => sample.name).sort())
})

describe.each(folders)('%s', (name) => {
  const folder = join(ROOT, name)
  const expected = JSON.parse(readFileSync(join(folder, 'expected.json'), 'utf8')) as ExpectedFile
  const reviewed = (async () => {
    const vehicle = await readVehicleFile(join(folder, expected.vehicle))
    const paths = expected.files.map((file) => join(folder, file))
    const signals = expected.signals ? { signals: join(folder, expected.signals) } : {}
    return reviewDrive(await openDrive(paths, { ...signals, vehicle }), vehicle)
  })()

  test('the simulator writes the files that lie here, byte for byte', () => {
    const files = SAMPLES.find((sample) => sample.name === name)!.files()
    for (const file of files) {
      expect(existsSync(join(folder, file.name)), file.name).toBe(true)
      const lying = readFileSync(join(folder, file.name))
      // Packed bytes may differ with the zlib of another Node; what is inside may not.
      const open = (bytes: Uint8Array): Buffer =>
        file.name.endsWith('.gz') ? gunzipSync(bytes) : Buffer.from(bytes)
      expect(open(lying).equals(open(file.bytes)), file.name).toBe(true)
      expect(lying.length, file.name).toBeLessThan(700_000)
    }
  })

  test('the review finds what was put in and nothing else above a note', async () => {
    const loud = (await reviewed).findings.filter((finding) => finding.severity !== 'note')
    for (const want of expected.expect) {
      const got = loud.find(
        (finding) =>
          finding.kind === want.kind &&
          (want.index === undefined || finding.subject.index === want.index) &&
          (want.name === undefined || finding.subject.name === want.name),
      )
      expect(got, `${want.kind} ${want.index ?? want.name ?? ''}`).toBeDefined()
      if (want.value !== undefined)
        expect(Math.abs(got!.value! / want.value - 1), want.kind).toBeLessThan(want.tol ?? 0.1)
    }
    const allowed = new Set([...expected.allow, ...expected.expect.map((want) => want.kind)])
    // what another finding explains stands beneath its cause
    expect(
      loud
        .filter((finding) => !allowed.has(finding.kind) && finding.explained_by === null)
        .map((finding) => finding.headline),
    ).toEqual([])
  })

  test('distance and energies are the true drive’s', async () => {
    const { drive, energy } = await reviewed
    expect(drive.distance_km ?? 0).toBeCloseTo(expected.distance_km, 1)
    if (expected.energy_out_wh > 10) {
      // The boxes' current gain (0.4 %) and offset are in the logs.
      expect(Math.abs(energy.out_wh! / expected.energy_out_wh - 1)).toBeLessThan(0.015)
      expect(Math.abs(energy.in_wh! / expected.energy_in_wh - 1)).toBeLessThan(0.015)
    }
  })

  if (!expected.clock) return
  test('the second log is put on the first one’s clock', async () => {
    const [first, second] = (await reviewed).drive.files
    // Own time counts from each file's first stamp, both at true time 0; the wall clocks are 16.63 s apart.
    expect(Math.abs(second!.clock.offset_s - first!.clock.offset_s)).toBeLessThan(0.1)
    expect(second!.clock.plus_minus_s).toBeLessThan(0.2)
  })
})

import type { Drive } from '../../shared/drive.ts'
import { driveFromColumns } from './drive-from-text.ts'

/** A minute's drive with enough channels to store, chart and measure: a triangle of current, a pack that sags. */
export function smallDrive(name = 'drive.csv', sha256 = 'a'.repeat(64)): Drive {
  const timeS = Array.from({ length: 6000 }, (_, i) => i * 0.01)
  const current = timeS.map((t) => 100 * Math.abs(((t / 10) % 2) - 1))
  const drive = driveFromColumns(timeS, {
    pack_current: current,
    pack_voltage: current.map((a) => 400 - 0.1 * a),
    'cell_voltage.1': current.map((a) => 4 - 0.001 * a),
    'cell_voltage.2': current.map((a) => 4 - 0.001 * a),
    'cell_voltage.3': current.map((a) => 4 - 0.0015 * a),
    key_on: timeS.map(() => 1),
  })
  const clock = { offset_s: 0, drift_ppm: 0, plus_minus_s: null, found_from: 'the only log', steps: [] }
  return { ...drive, files: [{ name, sha256, layout: 'wide CSV', rows: 6000, skipped: [], clock }] }
}

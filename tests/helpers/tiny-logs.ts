import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { seeded } from './shared-drive.ts'

/** A short log of its own: half a minute at 5 Hz, six cells; another seed gives other figures. */
export function tinyLog(seed: number, seconds = 30): string {
  const random = seeded(seed)
  const phase = random() * 6
  const rows = Array.from({ length: seconds * 5 }, (_, i) => {
    const a = 60 + 50 * Math.sin(i / 9 + phase) + random()
    const cells = Array.from({ length: 6 }, (_, c) =>
      (3.9 - a * (0.001 + c / 1e5) + random() / 1000).toFixed(3),
    )
    const speed = Math.max(0, 40 + 30 * Math.sin(i / 40))
    return [
      (i / 5).toFixed(1),
      a.toFixed(1),
      (6 * 3.9 - a * 0.007).toFixed(2),
      speed.toFixed(1),
      ...cells,
    ].join(',')
  })
  const cells = Array.from({ length: 6 }, (_, c) => `Cell ${c + 1} voltage [V]`)
  return [`Time [s],Pack current [A],Pack voltage [V],Speed [km/h],${cells.join(',')}`, ...rows, ''].join(
    '\n',
  )
}

/** So many drives, a folder each, over three cars of two kits, with their vehicle files. */
export function writeTinyDrives(folder: string, count: number): void {
  for (let n = 0; n < count; n++) {
    const car = ['Juniper', 'Sorrel', 'Teasel'][n % 3]!
    const drive = join(folder, car.toLowerCase(), `drive-${String(n).padStart(3, '0')}`)
    mkdirSync(drive, { recursive: true })
    writeFileSync(join(drive, 'log.csv'), tinyLog(n + 1))
    writeFileSync(
      join(folder, car.toLowerCase(), 'vehicle.json'),
      JSON.stringify({ name: car, kit: car === 'Teasel' ? 'Kit B/2 = "long"' : 'Kit A', pack: { cells: 6 } }),
    )
  }
}

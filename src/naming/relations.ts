import type { Vehicle } from '../../shared/vehicle.ts'
import { spreadOf } from '../drive/choose-unit.ts'
import type { RawSeries } from '../importers/raw-log.ts'
import { median } from '../math/stats.ts'

interface Pick {
  readonly id: string
  readonly sureness: number
  readonly why: string
}

/**
 * What the named columns say about each other: makes surer or less sure, in place.
 * - The pack's voltage is the sum of its cells, to a power of ten for a unit not stated.
 * - Two pedal tracks move together, or one against the other.
 */
export function relate(picks: Map<RawSeries, Pick>, _vehicle: Vehicle | undefined): void {
  const byId = new Map([...picks].map(([series, pick]) => [pick.id, series]))
  packIsSumOfCells(picks, byId)
  tracksMoveTogether(picks, byId)
}

function packIsSumOfCells(picks: Map<RawSeries, Pick>, byId: Map<string, RawSeries>): void {
  const pack = byId.get('pack_voltage')
  const cells = [...picks].filter(([, pick]) => pick.id.startsWith('cell_voltage.'))
  if (!pack || cells.length < 4) return
  const middles = cells.map(([series]) => spreadOf(series.values).middle)
  const sum = median(middles) * cells.length
  const ratio = spreadOf(pack.values).middle / sum
  const power = Math.round(Math.log10(ratio))
  const off = ratio / 10 ** power
  const pick = picks.get(pack)!
  if (off > 0.95 && off < 1.05)
    picks.set(pack, {
      ...pick,
      sureness: Math.max(pick.sureness, 0.97),
      why: `${pick.why}; it is the sum of the ${cells.length} cells`,
    })
}

function tracksMoveTogether(picks: Map<RawSeries, Pick>, byId: Map<string, RawSeries>): void {
  const one = byId.get('pedal_track_1')
  const two = byId.get('pedal_track_2')
  if (!one || !two || one.timeS !== two.timeS) return
  const r = Math.abs(correlation(one.values, two.values))
  if (!(r > 0.9)) return
  for (const series of [one, two]) {
    const pick = picks.get(series)!
    picks.set(series, {
      ...pick,
      sureness: Math.max(pick.sureness, 0.95),
      why: `${pick.why}; the two tracks move together`,
    })
  }
}

function correlation(a: Float64Array, b: Float64Array): number {
  let n = 0
  let [sa, sb, saa, sbb, sab] = [0, 0, 0, 0, 0]
  const stride = Math.max(1, Math.floor(a.length / 20_000))
  for (let i = 0; i < a.length; i += stride) {
    const [x, y] = [a[i]!, b[i]!]
    if (Number.isNaN(x) || Number.isNaN(y)) continue
    n++
    sa += x
    sb += y
    saa += x * x
    sbb += y * y
    sab += x * y
  }
  return (n * sab - sa * sb) / Math.sqrt((n * saa - sa * sa) * (n * sbb - sb * sb))
}

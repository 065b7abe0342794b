import { packCurrent } from '../../../src/car/pack-current.ts'
import { gatherFacts } from '../../../src/review/run-all.ts'
import { Random } from '../../simulator/random.ts'
import type { SecondSimulated } from '../../simulator/second/simulate-second.ts'
import { RunTruth } from '../../simulator/second/truth-source.ts'
import type { Measured, Simulated } from '../../simulator/simulate.ts'
import { TruthAt } from '../../simulator/truth-at.ts'
import { draw } from '../two-models.ts'
import type { RestFamily } from './family.ts'
import { type Laid, withLaid } from './overlay.ts'

/** True values of the simulated car, whichever model made it. */
function truthOf(made: Measured): { values(id: string, atS: ArrayLike<number>): Float64Array } {
  return 'trace' in made
    ? new TruthAt((made as Simulated).trace)
    : new RunTruth((made as SecondSimulated).run, new Random(1))
}

/**
 * Boxes of neighbouring modules, each with a voltage reading of its own (up to 0.2 s late, 0.3 % off in scale), behind a
 * link of 0.1 to 0.5 of the limit at the drive's own current. Ill: one link at 1.3 to 4 times the limit, all along or from a
 * moment on (a plug that works loose); the size is weighted by current squared.
 */
export const linkCable: RestFamily = {
  name: 'link cable or plug that resists',
  asks: ['main path', 'box links'],
  draw(model, seed, ill) {
    const made = draw({ model, seed, durationS: [220, 320] })
    const random = new Random(seed).fork(`link ${model} ${ill}`)
    const truth = truthOf(made)
    const per = made.vehicle.pack!.cells_per_module!
    const modules = Array.isArray(per)
      ? per
      : Array.from({ length: Math.ceil(made.vehicle.pack!.cells! / per) }, () => per)
    const boxes = random.whole(2, Math.min(3, modules.length))
    const boxOf = modules.map((_, m) => Math.floor((m * boxes) / modules.length))
    const current = gatherFacts(made.drive, made.vehicle).once(packCurrent)!
    const moved = current.amperes.filter((amps) => Math.abs(amps) > 2)
    const rms = Math.sqrt(moved.reduce((sum, amps) => sum + amps * amps, 0) / moved.length)
    const limit = Math.min(5, 20e3 / rms ** 2)
    const bad = random.whole(0, boxes - 1)
    const loose = random.chance(0.4)
    const fromS = loose ? made.drive.durationS * random.between(0.3, 0.5) : 0
    const extra = ill ? limit * random.between(1.3, loose ? 4 : 3) * (loose ? 1.5 : 1) : 0
    const rate = random.pick([2, 5, 10])
    const grid = Float64Array.from({ length: Math.floor(made.drive.durationS * 20) }, (_, i) => i / 20)
    const amps = truth.values('pack_current', grid)
    let whole = 0
    let weighted = 0
    const base = limit * random.between(0.1, 0.5)
    let first = 1
    const laid: Laid[] = Array.from({ length: boxes }, (_, b) => {
      const cells = modules.reduce((sum, n, m) => sum + (boxOf[m] === b ? n : 0), 0)
      const sum = new Float64Array(grid.length)
      for (let k = first; k < first + cells; k++) {
        const volts = truth.values(`cell_voltage.${k}`, grid)
        for (let i = 0; i < sum.length; i++) sum[i]! += volts[i]!
      }
      first += cells
      for (let i = 0; i < sum.length; i++) {
        const mohm = base + (b === bad && grid[i]! >= fromS ? extra : 0)
        sum[i]! -= (mohm / 1e3) * amps[i]!
        if (b === bad) {
          whole += amps[i]! ** 2
          weighted += mohm * amps[i]! ** 2
        }
      }
      const lateS = random.between(0, 0.2)
      const at = (t: number): number => {
        const place = Math.max(0, Math.min(sum.length - 1.001, (t - lateS) * 20))
        const i = Math.floor(place)
        return sum[i]! + (place - i) * (sum[i + 1]! - sum[i]!)
      }
      return {
        id: `box_voltage.${b + 1}`,
        rateHz: rate,
        step: random.pick([0.01, 0.05, 0.1]),
        noise: 0.02,
        gain: 0.0015 * random.normal(),
        at,
      }
    })
    const names = ['front', 'middle', 'rear'].slice(0, boxes)
    return {
      drive: withLaid(made, laid, random),
      vehicle: {
        ...made.vehicle,
        pack: { ...made.vehicle.pack, box_of_module: boxOf.map((b) => names[b]!) },
      },
      planted: ill ? { kind: 'box-link-resistance-high', name: null, value: weighted / whole } : null,
      words: `${boxes} boxes, ${rms.toFixed(0)} A, limit ${limit.toFixed(2)} mΩ, base ${base.toFixed(2)}${ill ? `, ${extra.toFixed(2)} mΩ more in box ${bad + 1} from ${fromS.toFixed(0)} s` : ''}`,
    }
  },
}

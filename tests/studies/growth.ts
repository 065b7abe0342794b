import type { Review } from '../../shared/review.ts'
import { cellGrowth } from '../../src/history/cell-growth.ts'
import { quantile } from '../../src/math/stats.ts'
import { cells } from '../../src/pack/questions/cells.ts'
import { gatherFacts, runAll } from '../../src/review/run-all.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { randomCase, someCell } from '../simulator/random-case.ts'
import { type Simulated, simulate } from '../simulator/simulate.ts'

/**
 * What a joint gained between two drives: pairs of one car's drives on other roads, in other warmth and charge, without
 * a fault, with a joint that grew, one that came, and a weak cell that stayed. How often each interval holds, how wide it
 * is, and what is called certain falsely.
 *
 *     npm run study:growth -- [pairs, default 40] [first seed] [--without-vehicle]
 */
const [pairs = 40, first = 1] = process.argv
  .slice(2)
  .filter((each) => /^\d+$/.test(each))
  .map(Number)
const bare = process.argv.includes('--without-vehicle')

function faultsOf(kind: number, cell: number, random: Random): readonly [Fault[], Fault[]] {
  const ohm = random.between(0.0002, 0.0008)
  const more = random.between(0.00003, 0.00015)
  const weak: Fault[] = [{ kind: 'weak-cell', cell, ratio: 1.6 }]
  if (kind === 0) return [[], []]
  if (kind === 1) return [[{ kind: 'joint', cell, ohm }], [{ kind: 'joint', cell, ohm: ohm + more }]]
  if (kind === 2) return [[], [{ kind: 'joint', cell, ohm: more }]]
  return [weak, weak]
}

const reviewed = ({ drive, vehicle }: Simulated): Review => {
  const answers = runAll(gatherFacts(drive, bare ? {} : vehicle), [{ name: 'cells', run: cells }])
  return { cells: answers.flatMap((answer) => answer.sections?.cells ?? []) } as unknown as Review
}

const widths: number[] = []
const ofFaulty: boolean[] = []
let [held, false_, grown, seen] = [0, 0, 0, 0]
for (let seed = first; seed < first + pairs; seed++) {
  const random = new Random(seed).fork('growth')
  let faults: readonly [Fault[], Fault[]] = [[], []]
  const base = randomCase({
    seed: 600000 + seed,
    faults: (car, own) => {
      faults = faultsOf(seed % 4, Math.min(Math.max(4, someCell(car, own)), 20), own)
      return []
    },
  })
  const drive = (which: 0 | 1): Simulated => {
    const startC = random.between(5, 28)
    const pack = { ...base.car!.pack, startSoc: random.between(0.45, 0.8) }
    const heat = { ...base.car!.heat, startC, ambientC: startC - 2 }
    const kind = random.pick(['urban', 'mixed', 'rural', 'gentle'] as const)
    return simulate({
      ...base,
      faults: faults[which],
      car: { ...base.car, pack, heat },
      route: { kind, durationS: random.between(300, 700) },
    })
  }
  const [before, after] = [drive(0), drive(1)]
  const growth = cellGrowth(reviewed(before), reviewed(after))
  for (const each of growth?.cells ?? []) {
    const joint = ({ truth }: Simulated): number => truth.cells[each.cell - 1]!.faultJointMohm
    const gained = joint(after) - joint(before)
    const holds = Math.abs(each.changeMohm - gained) <= each.plusMinus
    widths.push(each.plusMinus)
    if (holds) held++
    if (faults.flat().some((fault) => 'cell' in fault && fault.cell === each.cell)) ofFaulty.push(holds)
    if (gained > 0) grown++
    if (gained > 0 && each.certain) seen++
    if (gained === 0 && each.certain) {
      false_++
      console.log(
        `  FALSE seed ${seed} cell ${each.cell} ${each.changeMohm.toFixed(3)} ± ${each.plusMinus.toFixed(3)} mΩ`,
      )
    }
  }
}
const share = (part: number, of: number): string => `${((100 * part) / of).toFixed(1)} %`
console.log(`cells compared ${widths.length}; 95 % interval held ${share(held, widths.length)}`)
console.log(
  `half width: median ${quantile(widths, 0.5).toFixed(4)}, 90 % ${quantile(widths, 0.9).toFixed(4)} mΩ`,
)
console.log(
  `cells with a fault: interval held ${share(ofFaulty.filter(Boolean).length, ofFaulty.length)} of ${ofFaulty.length}`,
)
console.log(`joints that gained 0.03 to 0.15 mΩ told: ${seen} of ${grown}; told falsely: ${false_} cells`)

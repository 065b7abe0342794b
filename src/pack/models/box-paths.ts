import type { Channel } from '../../../shared/drive.ts'
import { moduleOfCell } from '../../../shared/vehicle.ts'
import { type Facts, family } from '../../facts/facts.ts'
import { median } from '../../math/stats.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import type { Samples } from '../../samples/on-one-clock.ts'
import { sumOfCells } from '../../samples/sum-of-cells.ts'

/** A box whose own voltage reading can be set beside the sum of its cells. */
export interface BoxPath {
  /** "box rear", by the vehicle file, else "box 2". */
  readonly name: string
  readonly cells: Samples
  readonly box: Samples
  readonly channels: readonly string[]
  readonly modules: readonly number[]
}

/** A box's reading and the sum of its cells lie within so many of a cell's voltage, or they are not the same; no source. */
const SAME_CELLS = 0.45

/**
 * Which cells are in which box: `box_voltage.N` in ascending number holds the cells in ascending number, each box as many as
 * add up to its reading. The vehicle file's boxes name them where they have the same borders.
 * Gives none where the cells are not all logged, or do not add up to the boxes (parallel strings do not).
 */
export function boxPaths(facts: Facts): readonly BoxPath[] {
  const boxes = family(facts, 'box_voltage')
  const cells = family(facts, 'cell_voltage')
  if (boxes.length < 1 || cells.length < 2 * boxes.length || cells.at(-1)!.number !== cells.length) return []
  const usual = cells.map(({ channel }) => median(channel.values))
  const found: BoxPath[] = []
  let next = 0
  for (const box of boxes) {
    const wanted = median(box.channel.values)
    const from = next
    let sum = 0
    while (next < cells.length && sum + usual[next]! / 2 < wanted) sum += usual[next++]!
    const own = cells.slice(from, next)
    if (own.length === 0 || Math.abs(sum - wanted) > SAME_CELLS * (sum / own.length)) return []
    const added = sumOfCells(renumbered(own.map(({ channel }) => channel)))
    if (!added) return []
    const modules = [...new Set(own.map(({ number }) => moduleOfCell(facts.layout, number)))]
    found.push({
      name: nameOf(facts, modules, box.number),
      cells: { timeS: added.timeS, values: added.volts },
      box: freshSamples(box.channel),
      channels: [box.channel.id, `cell_voltage.${own[0]!.number}`, `cell_voltage.${own.at(-1)!.number}`],
      modules,
    })
  }
  return next === cells.length ? found : []
}

const renumbered = (channels: readonly Channel[]): Map<string, Channel> =>
  new Map(
    channels.map((each, i) => [`cell_voltage.${i + 1}`, { ...each, id: `cell_voltage.${i + 1}` }] as const),
  )

function nameOf({ vehicle, layout }: Facts, modules: readonly number[], number: number): string {
  const named = vehicle.pack?.box_of_module ?? []
  const names = new Set(modules.map((module) => named[module - 1]))
  const [name] = names
  const alone = named.filter((each) => each === name).length === modules.length
  return layout.known && names.size === 1 && name && alone ? `box ${name}` : `box ${number}`
}

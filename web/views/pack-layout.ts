import { packLayout, type Vehicle } from '../../shared/vehicle.ts'
import { capital } from '../../shared/wording.ts'

export interface PackBox {
  readonly name: string
  readonly modules: readonly {
    readonly index: number
    readonly cells: readonly number[]
    readonly known: boolean
  }[]
  readonly longAfter: ReadonlySet<number>
}

/** The pack as built: boxes in the order in which they first come, modules and cells in theirs. */
export function boxesOf(vehicle: Vehicle, cells: readonly number[]): PackBox[] {
  const layout = packLayout(vehicle, cells.length)
  const names = vehicle.pack?.box_of_module ?? []
  const boxes = new Map<string, PackBox['modules'][number][]>()
  for (let module = 0; module < layout.moduleStarts.length - 1; module++) {
    const from = layout.moduleStarts[module]!
    const to = layout.moduleStarts[module + 1]!
    const box = names[module] ? `${capital(names[module]!)} box` : 'Pack'
    const own = { index: module + 1, cells: cells.slice(from - 1, to - 1), known: layout.known }
    boxes.set(box, [...(boxes.get(box) ?? []), own])
  }
  return [...boxes].map(([name, modules]) => ({ name, modules, longAfter: layout.longAfter }))
}

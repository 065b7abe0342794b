import { moduleOfCell } from '../../../shared/vehicle.ts'
import { copperOhm } from '../../car/copper.ts'
import type { Facts } from '../../facts/facts.ts'

/** A link that has no peers: a cable between boxes, a service plug, a fuse. The vehicle file names it. */
export interface LoneLink {
  readonly afterCell: number
  /** In plain words: "the cable between boxes front and rear". */
  readonly what: string
  /** Copper of its stated length and section at 20 °C, Ω; null where the vehicle file does not say. */
  readonly copperOhm: number | null
}

const WORDS = { cable: 'the cable', 'service-plug': 'the service plug', fuse: 'the fuse' } as const

/**
 * Links that no other link of the pack is like, by the vehicle file: where two modules stand in different boxes
 * (`box_of_module`), and what `links` calls a cable, a service plug or a fuse. They are judged by their heat and by
 * copper (`box-links`), never against the links between modules.
 */
export function loneLinks(facts: Facts): LoneLink[] {
  const { layout, vehicle } = facts
  const boxes = vehicle.pack?.box_of_module ?? []
  const box = (cell: number): string | undefined => boxes[moduleOfCell(layout, cell) - 1]
  const stated = new Map((vehicle.pack?.links ?? []).map((link) => [link.after_cell, link]))
  const found: LoneLink[] = []
  for (let cell = 1; cell < layout.cells; cell++) {
    const link = stated.get(cell)
    const [here, there] = [box(cell), box(cell + 1)]
    const crosses = layout.known && here !== undefined && there !== undefined && here !== there
    const named = link?.kind !== undefined && link.kind !== 'busbar' ? WORDS[link.kind] : null
    if (!crosses && !named) continue
    const place = crosses ? `between boxes ${here} and ${there}` : `between cells ${cell} and ${cell + 1}`
    const copper =
      link?.length_m !== undefined && link.section_mm2 !== undefined
        ? copperOhm(link.length_m, link.section_mm2)
        : null
    found.push({ afterCell: cell, what: `${named ?? 'the cable'} ${place}`, copperOhm: copper })
  }
  return found
}

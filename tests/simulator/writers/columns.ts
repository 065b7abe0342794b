import type { Box } from '../boxes.ts'
import type { Samples } from '../measure.ts'
import { columnName, type NameStyle, writtenUnit } from './names.ts'

/** One log file. */
export interface Written {
  readonly name: string
  readonly bytes: Uint8Array
}

/** What every layout of text needs: names and units. */
export interface Naming {
  readonly names: NameStyle
  readonly numberFrom?: 0 | 1
  /** Channel family → unit other than the program's. */
  readonly units?: Readonly<Record<string, string>>
  /** Channel ids left out; families by `cell_voltage.`. */
  readonly without?: readonly string[]
  /** Channel → state number → words written instead of the number. */
  readonly stateWords?: Readonly<Record<string, Readonly<Record<string, string>>>>
}

/** A column as a box writes it. */
export interface Column {
  readonly id: string
  readonly name: string
  readonly unit: string
  readonly samples: Samples
  /** Field of the i-th sample, decimal point. */
  text(i: number): string
}

/** The columns of one box, in its readings' order. */
export function columnsOf(samples: readonly Samples[], box: Box, naming: Naming): Column[] {
  const skip = naming.without ?? []
  return samples
    .filter(
      (each) =>
        each.box === box &&
        !skip.some((out) => each.id === out || (out.endsWith('.') && each.id.startsWith(out))),
    )
    .map((each) => {
      const unit = writtenUnit(each.id, naming.units)
      const words = naming.stateWords?.[each.id]
      const decimals = decimalsFor((each.reading.step ?? 1) * unit.factor)
      return {
        id: each.id,
        name: columnName(each.id, naming.names, naming.numberFrom ?? 1),
        unit: unit.text,
        samples: each,
        text: (i) => {
          const value = each.values[i]!
          if (Number.isNaN(value)) return ''
          return words?.[String(value)] ?? fixed(value * unit.factor + unit.offset, decimals)
        },
      }
    })
}

/** Decimals that show a step of this size: 0.002 → 3, 0.5 → 1, 1 → 0; an odd step gets one more. */
export function decimalsFor(step: number): number {
  for (let decimals = 0; decimals <= 6; decimals++) {
    const scaled = step * 10 ** decimals
    if (Math.abs(scaled - Math.round(scaled)) < 1e-9 && scaled >= 0.999) return decimals
  }
  return Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(step))))
}

function fixed(value: number, decimals: number): string {
  const text = value.toFixed(decimals)
  return /^-0(\.0*)?$/.test(text) ? text.slice(1) : text
}

/** The box's own time of a moment of truth, s. */
export function ownTime(box: Box, trueS: number): number {
  const clock = box.clock
  if (!clock) return trueS
  let own = trueS * (1 + clock.driftPpm * 1e-6) + clock.offsetS
  for (const step of clock.steps ?? []) if (trueS >= step.atS) own += step.byS
  return own
}

/** All stamps of some columns, each once, rising. */
export function stampsOf(columns: readonly Column[]): Float64Array {
  const lists = [...new Set(columns.map((column) => column.samples.timeS))]
  let merged: Float64Array = Float64Array.of()
  for (const list of lists) merged = merge(merged, list)
  return merged
}

function merge(a: Float64Array, b: Float64Array): Float64Array {
  const out = new Float64Array(a.length + b.length)
  let n = 0
  let i = 0
  let j = 0
  while (i < a.length || j < b.length) {
    const next = j >= b.length || (i < a.length && a[i]! <= b[j]!) ? a[i]! : b[j]!
    if (i < a.length && a[i] === next) i++
    if (j < b.length && b[j] === next) j++
    out[n++] = next
  }
  return out.subarray(0, n)
}

import type { CellFit } from './cell-fit.ts'

/** Root of the mean square and largest size of the drive's current, A. */
export function driveCurrents({ through: { amperes } }: CellFit): { rms: number; peak: number } {
  let squares = 0
  let peak = 0
  for (let j = 0; j < amperes.length; j++) {
    squares += amperes[j]! ** 2
    peak = Math.max(peak, Math.abs(amperes[j]!))
  }
  return { rms: Math.sqrt(squares / amperes.length), peak }
}

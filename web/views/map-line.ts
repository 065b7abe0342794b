import type { XyLine } from '../chart/xy-chart.tsx'

/** A regeneration map as a line over pressure: nothing, then rising from start to full, then level. */
export function mapLine(
  label: string,
  start: number | null,
  full: number | null,
  most: number | null,
  upTo: number,
): XyLine | null {
  if (start === null || full === null || most === null) return null
  return {
    label,
    points: [
      [0, 0],
      [start, 0],
      [full, most],
      [Math.max(full, upTo), most],
    ],
  }
}

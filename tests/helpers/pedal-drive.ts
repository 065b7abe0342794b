import type { Drive } from '../../shared/drive.ts'
import { driveFromColumns } from './drive-from-text.ts'

/** Mirrored pair in volts, as in the tests' vehicle files. */
export const PEDAL_ENDS = { track_1: [0.8, 4.2] as [number, number], track_2: [4.2, 0.8] as [number, number] }

export interface PedalScript {
  readonly hz: number
  readonly seconds: number
  /** Percent of travel of each track at a moment. */
  readonly first: (s: number) => number
  readonly second: (s: number) => number
  readonly more?: Readonly<Record<string, (s: number) => number>>
  /** Later reading of track 2, s. */
  readonly skewS?: number
}

/** A drive of two pedal tracks in volts (and whatever else is asked for), every channel in the same rows. */
export function pedalDrive(script: PedalScript): Drive {
  const n = Math.round(script.seconds * script.hz) + 1
  const timeS = Float64Array.from({ length: n }, (_, i) => i / script.hz)
  const volts = (percent: number, [released, pressed]: readonly [number, number]): number =>
    released + (percent / 100) * (pressed - released)
  const columns: Record<string, Float64Array> = {
    pedal_track_1: timeS.map((s) => volts(script.first(s), PEDAL_ENDS.track_1)),
    pedal_track_2: timeS.map((s) => volts(script.second(s + (script.skewS ?? 0)), PEDAL_ENDS.track_2)),
  }
  for (const [id, of] of Object.entries(script.more ?? {})) columns[id] = timeS.map(of)
  return driveFromColumns(timeS, columns)
}

/** A foot that presses to `top` percent and lifts again every `everyS` seconds, smoothly. */
export const tapping =
  (top: number, everyS = 6) =>
  (s: number): number =>
    top * Math.max(0, Math.sin((2 * Math.PI * s) / everyS)) ** 1.5

import type { Box } from '../boxes.ts'
import { ownTime } from './columns.ts'

/** How a log writes time. `wall` is `YYYY-MM-DD HH:MM:SS.fff`, `clock` the time of day alone. */
export type TimeForm = 'seconds' | 'milliseconds' | 'iso' | 'wall' | 'clock' | 'counter16'

export const TIME_HEADER: Readonly<Record<TimeForm, readonly [name: string, unit: string]>> = {
  seconds: ['Time', 's'],
  milliseconds: ['Time', 'ms'],
  iso: ['Timestamp', ''],
  wall: ['Date and time', ''],
  clock: ['Time of day', ''],
  counter16: ['Tick', 'ms'],
}

/** The field for a moment of truth, in the box's own clock. @param decimals of seconds. */
export function timeField(box: Box, form: TimeForm, trueS: number, decimals = 3): string {
  const own = ownTime(box, trueS)
  if (form === 'seconds') return own.toFixed(decimals)
  const ms = Math.round(own * 1000)
  if (form === 'milliseconds') return String(ms)
  if (form === 'counter16') return String(((ms % 65536) + 65536) % 65536)
  const started = Date.parse(box.clock?.startsAt ?? '2031-05-09T13:20:00Z')
  const iso = new Date(started + ms).toISOString()
  if (form === 'iso') return iso
  return form === 'wall' ? iso.slice(0, 23).replace('T', ' ') : iso.slice(11, 23)
}

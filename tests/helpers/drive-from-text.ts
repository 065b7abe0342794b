import { catalogueEntry } from '../../shared/channels.ts'
import type { Channel, Drive } from '../../shared/drive.ts'
import { findSegments } from '../../src/drive/segments.ts'

/**
 * A drive drawn as text: a row a moment, a column a channel, blanks between; `-` is no sample, `nan` an
 * unbelievable one. Units are the program's own.
 *
 *     time_s  pack_voltage  pack_current
 *     0.0     400           0
 *     0.1     395           50
 */
export function driveFromText(text: string): Drive {
  const [head, ...rows] = text
    .trim()
    .split('\n')
    .map((line) => line.trim().split(/\s+/))
  const columns: Record<string, ArrayLike<number>> = {}
  const timeS = rows.map((row) => Number(row[0]))
  head!.slice(1).forEach((id, at) => {
    columns[id] = rows.map((row) => (row[at + 1] === '-' ? Number.POSITIVE_INFINITY : Number(row[at + 1])))
  })
  return driveFromColumns(timeS, columns)
}

/** A drive from arrays in the program's units; +Infinity in a column is "no sample here". */
export function driveFromColumns(
  timeS: ArrayLike<number>,
  columns: Readonly<Record<string, ArrayLike<number>>>,
): Drive {
  const channels = new Map<string, Channel>()
  const shared = Float64Array.from(timeS)
  for (const [id, column] of Object.entries(columns)) {
    const all = Float64Array.from(column)
    const sparse = all.includes(Number.POSITIVE_INFINITY)
    const entry = catalogueEntry(id)
    channels.set(id, {
      id,
      unit: entry?.unit ?? '',
      timeS: sparse ? shared.filter((_, i) => all[i] !== Number.POSITIVE_INFINITY) : shared,
      values: sparse ? all.filter((value) => value !== Number.POSITIVE_INFINITY) : all,
      fresh: null,
      labels: null,
      file: 'text',
      from: id,
      step: 0,
      polarity: entry?.kind === 'switch' ? 'as-named' : null,
    })
  }
  const durationS = shared[shared.length - 1] ?? 0
  return {
    files: [],
    startedAt: null,
    durationS,
    channels,
    spares: [],
    reports: [],
    segments: findSegments(channels, durationS),
    buses: [],
    events: [],
    assumptions: [],
  }
}

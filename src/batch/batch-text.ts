import type { JobEnd } from './run-local.ts'

/** The table at the end: a line a drive, then what it comes to. */
export function batchTable(ends: readonly JobEnd[], notes: readonly string[], seconds: number): string {
  const rows = ends.map((end) =>
    'record' in end
      ? [
          end.job.name,
          end.record.car ?? '',
          end.record.state === 'refused' ? 'not read' : end.record.verdict!,
          end.fresh ? 'reviewed' : 'as before',
          end.record.sentence,
        ]
      : [end.job.name, '', 'given up', '', end.failed],
  )
  const head = ['drive', 'car', 'verdict', '', 'what it says']
  const widths = head.map((_, c) => Math.max(...[head, ...rows].map((row) => row[c]!.length)))
  const line = (row: readonly string[]): string =>
    row.map((field, c) => (c === row.length - 1 ? field : field.padEnd(widths[c]!))).join('  ')
  const count = (what: (end: JobEnd) => boolean): number => ends.filter(what).length
  const fresh = count((end) => 'record' in end && end.fresh && end.record.state === 'reviewed')
  const before = count((end) => 'record' in end && !end.fresh)
  const unread = count((end) => 'record' in end && end.fresh && end.record.state === 'refused')
  const failed = count((end) => 'failed' in end)
  const sum = [
    `${drivesText(ends.length)}: ${fresh} reviewed, ${before} as before`,
    ...(unread > 0 ? [`${unread} whose logs cannot be read`] : []),
    ...(failed > 0 ? [`${failed} given up`] : []),
  ].join(', ')
  return [
    ...(rows.length > 0 ? [head, ...rows].map(line) : []),
    ...notes,
    `${sum}; ${seconds.toFixed(1)} s.`,
    '',
  ].join('\n')
}

/** Which logs were taken for one drive, and why; said before the work begins. */
export function groupsText(jobs: readonly { readonly name: string; readonly why: string }[]): string {
  const several = jobs.filter(({ why }) => why !== 'the only log of its folder')
  const alone = jobs.length - several.length
  return [
    ...several.map(({ name, why }) => `  ${name}  (${why})`),
    ...(alone > 0 ? [`  ${drivesText(alone)} of one log that lies alone in its folder`] : []),
    '',
  ].join('\n')
}

/** `1 drive`, `2 drives`. */
export const drivesText = (count: number): string => `${count} ${count === 1 ? 'drive' : 'drives'}`

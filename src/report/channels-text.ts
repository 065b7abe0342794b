import { catalogueEntry, channelNumber } from '../../shared/channels.ts'
import type { ChannelReport, Drive } from '../../shared/drive.ts'

/** `aftermile channels`: how each column or signal was understood, and what was left over, in lines for people. */
export function channelsText(drive: Drive): string {
  const lines: string[] = []
  for (const file of drive.files) {
    lines.push(`${file.name}: ${file.layout}, ${file.rows} rows`)
    const own = drive.reports.filter((report) => report.from.startsWith(`${file.name}: `))
    const understood = familiesOf(own.filter(isChannel))
    const left = own.filter((report) => !isChannel(report))
    const rows = understood.map((family) => describe(family, file.name))
    const widths = [0, 1, 2, 3].map((c) => Math.max(0, ...rows.map((row) => row[c]!.length)))
    for (const row of rows)
      lines.push(`  ${row.map((text, c) => (c < 4 ? text.padEnd(widths[c]!) : text)).join('  ')}`.trimEnd())
    if (left.length > 0) {
      lines.push(`  left over, kept under their own names (${left.length}):`)
      for (const report of left) lines.push(`    ${columnOf(report, file.name)}: ${report.why}`)
    }
    for (const each of file.skipped)
      lines.push(`  skipped: ${each.what}, ${each.count} (first: ${each.first})`)
    lines.push('')
  }
  for (const text of drive.assumptions) lines.push(`assumed: ${text}`)
  return `${lines.join('\n').trimEnd()}\n`
}

/** The same for programs. */
export function channelsJson(drive: Drive): string {
  const body = {
    schema: 1,
    files: drive.files.map(({ name, layout, rows, skipped }) => ({ name, layout, rows, skipped })),
    channels: drive.reports.filter(isChannel),
    left_over: drive.reports.filter((report) => !isChannel(report)),
    assumptions: drive.assumptions,
  }
  return `${JSON.stringify(body, null, 1)}\n`
}

const isChannel = (report: ChannelReport): boolean => catalogueEntry(report.id) !== undefined

const columnOf = (report: ChannelReport, file: string): string => report.from.slice(file.length + 2)

/** Runs of one numbered channel that were understood alike: one line for all cells. */
function familiesOf(reports: readonly ChannelReport[]): ChannelReport[][] {
  const families = new Map<string, ChannelReport[]>()
  for (const report of reports) {
    const numbered = channelNumber(report.id) > 0
    const base = numbered ? report.id.slice(0, report.id.lastIndexOf('.')) : report.id
    const key = numbered
      ? `${base}|${report.unit_in}|${report.conversion}|${report.why}|${report.rate_hz?.toPrecision(2)}`
      : `${base}|${families.size}`
    const family = families.get(key)
    if (family) family.push(report)
    else families.set(key, [report])
  }
  return [...families.values()]
}

function describe(family: readonly ChannelReport[], file: string): string[] {
  const [first] = family as [ChannelReport]
  const last = family[family.length - 1]!
  const many = family.length > 1
  const rate = first.rate_hz === null ? '' : `${Number(first.rate_hz.toPrecision(3))} Hz`
  const gaps = family.reduce((sum, report) => sum + report.gaps.length, 0)
  const conversion = first.conversion === 'none' ? '' : `; ${first.conversion}`
  return [
    many ? `${first.id} … ${channelNumber(last.id)}` : first.id,
    `← ${columnOf(first, file)}${many ? ` … ${columnOf(last, file)}` : ''}`,
    `${first.samples} samples${rate ? `, ${rate}` : ''}${gaps > 0 ? `, ${gaps} gaps` : ''}`,
    `sure ${Math.min(...family.map((report) => report.sureness)).toFixed(2)}`,
    `${first.why}${conversion}`,
  ]
}

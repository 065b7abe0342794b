import { createHash } from 'node:crypto'
import { BOUNDS } from '../../../shared/bounds.ts'
import type { RawLog, RawSeries } from '../../../shared/raw-log.ts'
import type { LogSource } from '../../bytes/file-source.ts'
import { LogError } from '../../errors.ts'
import { DATED_FROM, DATED_UNTIL } from '../captures/pcap-frame.ts'
import type { ImportOptions } from '../importer.ts'
import { summariseBus } from './frame-bus.ts'
import { FrameCensus, FrameFill } from './frame-census.ts'
import type { FrameGroup } from './frame-groups.ts'
import { type FrameWalk, SkipCount, type WalkReport } from './frame-sink.ts'
import { framesSeen, NoSignalsError, rateText } from './frames-seen.ts'
import { identifierText, type Signal, type SignalTable } from './signal.ts'
import { lastByte, readSignalTable } from './signal-table.ts'

/** How a frame log is walked; given the table, because a frame CSV's number base may have to be told by it. */
export type FrameReader = (source: LogSource, table: SignalTable | null) => Promise<FrameWalk>

/**
 * Frames → signals in two walks: count, allocate exactly, fill. Memory holds the decoded channels and a small block a
 * group, never the frames.
 * @throws LogError where there is no signal table, no frame, or a signal past its frame's end
 */
export async function readFrameLog(
  source: LogSource,
  options: ImportOptions,
  layout: string,
  reader: FrameReader,
): Promise<RawLog> {
  const table = options.signals ? await readSignalTable(options.signals) : null
  const walk = await reader(source, table)
  const census = new FrameCensus(table?.signals ?? [])
  const report = await walk(source, census)
  const damage = source.damage()
  if (report.frames === 0)
    throw new LogError(
      'no-frames',
      `${source.name}: holds no CAN frame that can be read${damage ? ` (${damage})` : ''}; ${layout} was expected.`,
    )
  options.progress?.(0.4)
  if (!table) throw new NoSignalsError(source.name, framesSeen(census))
  checkShared(source.name, table, census)
  checkEnds(table, census)
  const groups = census.identifiers.flatMap(({ route }) => route?.groups ?? [])
  const beyond = groups.reduce((sum, group) => sum + group.bound(), 0)
  checkRoom(source.name, groups)
  for (const group of groups) group.allocate()
  await walk(source, new FrameFill(census))
  for (const group of groups) group.flush()
  options.progress?.(1)

  const skips = new SkipCount()
  for (const each of report.skipped) skips.add(each.what, each.first, each.count)
  if (damage) skips.add('rest of the file', damage)
  if (beyond > 0)
    skips.add(`frames past the first ${BOUNDS.rows / 1e6} million of their signals`, 'at the end', beyond)
  noteLosses(skips, census, groups)
  return {
    name: source.name,
    sha256: await source.sha256(),
    layout: source.packed ? `${layout}, gzip` : layout,
    rows: report.frames,
    skipped: skips.list(),
    series: toSeries(table.signals, groups),
    startedAt: report.startedAt ?? lateDate(report),
    notes: [
      ...(report.assumed ? [report.assumed] : []),
      ...(table.notes ?? []).map((text) => `${table.name}: ${text}`),
      ...absentFrames(table, census),
    ],
    fingerprint: fingerprint(table),
    bus: summariseBus(source.name, census, table, groups),
    events: [
      ...census.events,
      ...report.clockSteps.map((step) => ({
        at_s: step.at_s,
        what: `clock step: ${step.why}`,
        channel: null,
      })),
    ],
    clockSteps: report.clockSteps,
  }
}

/** @throws LogError where the table asks for more values than a log may bring: told before any is made room for */
function checkRoom(name: string, groups: readonly FrameGroup[]): void {
  const values = groups.reduce((sum, group) => sum + group.frames * (group.signals.length + 1), 0)
  if (values <= BOUNDS.values) return
  throw new LogError(
    'too-large',
    `${name}: its frames and the signal table give ${Math.round(values / 1e6)} million values; at most ${BOUNDS.values / 1e6} million were expected: review it in parts, or leave out rows of the table.`,
  )
}

/** A clock that was set while the log ran: the step tells when own time 0 was. */
function lateDate({ clockSteps }: WalkReport): string | null {
  const set = clockSteps.find((step) => step.step_s > DATED_FROM && step.step_s < DATED_UNTIL)
  return set ? new Date(Math.round(set.step_s * 1000)).toISOString() : null
}

function toSeries(signals: readonly Signal[], groups: readonly FrameGroup[]): RawSeries[] {
  const found = new Map<number, RawSeries>()
  for (const group of groups)
    group.signals.forEach((signal, at) => {
      if (group.frames === 0) return
      found.set(signal.row, {
        name: signal.name,
        unit: signal.unit,
        channel: signal.channel,
        timeS: group.timeS,
        values: group.values[at]!,
        fresh: null,
        labels: null,
        node: signal.node,
      })
    })
  return signals.flatMap((signal) => found.get(signal.row) ?? [])
}

/** A signal past the end of every frame seen is a wrong table, not a short frame. */
function checkEnds(table: SignalTable, census: FrameCensus): void {
  const longest = new Map(census.identifiers.map((each) => [each.key, each.longest]))
  for (const signal of table.signals) {
    const bytes = longest.get(signal.key)
    if (bytes === undefined || lastByte(signal) < bytes) continue
    throw new LogError(
      'signals',
      `${table.name}: row ${signal.row} ("${signal.name}") reaches byte ${lastByte(signal)}, past the end of frame ${identifierText(signal.key)}, which has ${bytes} bytes.`,
    )
  }
}

function noteLosses(skips: SkipCount, census: FrameCensus, groups: readonly FrameGroup[]): void {
  for (const group of groups) {
    const frame = identifierText(group.signals[0]!.key)
    if (group.short > 0) skips.add('frames too short for all their signals', `frame ${frame}`, group.short)
    group.signals.forEach((signal, at) => {
      const count = group.invalid[at]!
      if (count > 0) skips.add('raw values that mean no value', `signal ${signal.name}`, count)
    })
  }
  for (const each of census.identifiers)
    if (each.unselected > 0)
      skips.add(
        'frames with a selector value that no signal names',
        `frame ${identifierText(each.key)}`,
        each.unselected,
      )
  for (const each of census.identifiers) {
    if (each.route !== null) continue
    const bytes = Array.from(each.changing).flatMap((on, k) => (on ? [k] : []))
    const change = bytes.length === 0 ? 'no byte changes' : `bytes ${bytes.join(', ')} change`
    skips.add(
      `frames that no signal explains: ${identifierText(each.key)}, ${rateText(each)}, ${change}`,
      `${each.firstS.toFixed(3)} s`,
      each.count,
    )
  }
  if (census.uncounted > 0)
    skips.add('frames beyond 65,536 identifiers', 'all over the log', census.uncounted)
}

/** @throws LogError where table and log have no identifier in common */
function checkShared(name: string, table: SignalTable, census: FrameCensus): void {
  if (census.identifiers.some((each) => each.route !== null)) return
  const list = (keys: readonly number[]): string =>
    `${[...new Set(keys)].slice(0, 10).map(identifierText).join(', ')}${new Set(keys).size > 10 ? ', …' : ''}`
  throw new LogError(
    'signals',
    `${name}: none of its identifiers (${list(census.identifiers.map((each) => each.key))}) is in ${table.name} (${list(table.signals.map((each) => each.key))}); a signal table of this bus was expected.`,
  )
}

/** Frames that the table describes and the log never shows. */
function absentFrames(table: SignalTable, census: FrameCensus): string[] {
  const seen = new Set(census.identifiers.map((each) => each.key))
  const absent = [...new Set(table.signals.map((each) => each.key))].filter((key) => !seen.has(key))
  return absent.length === 0
    ? []
    : [
        `Frames of the signal table that never came: ${absent.slice(0, 20).map(identifierText).join(', ')}${absent.length > 20 ? ', …' : ''}.`,
      ]
}

/** The table is the layout: the same signals in CSV or pcap are one. */
function fingerprint(table: SignalTable): string {
  const rows = table.signals.map((each) => `${each.key}/${each.startBit}/${each.length}/${each.name}`)
  return `frames ${createHash('sha256').update(rows.join('\n')).digest('hex').slice(0, 24)}`
}

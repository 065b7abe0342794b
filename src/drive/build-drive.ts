import { BOUNDS } from '../../shared/bounds.ts'
import { catalogueEntry } from '../../shared/channels.ts'
import type { BusSummary, Channel, ChannelReport, Drive, DriveFile, UnitDoubt } from '../../shared/drive.ts'
import type { RawLog } from '../../shared/raw-log.ts'
import type { Span } from '../../shared/units.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { LogError } from '../errors.ts'
import { nameLogs } from '../naming/name-logs.ts'
import { withSeveralMotors } from '../naming/several-motors.ts'
import { samplePeriod } from '../samples/on-one-clock.ts'
import { type Cleaned, cleanSeries } from './cleaning/clean-channel.ts'
import { doubtfulUnits, slippedColumns } from './cleaning/doubtful-units.ts'
import { emptyPlaceNotes, withoutEmptyPlaces } from './cleaning/empty-places.ts'
import { findGaps } from './cleaning/gaps.ts'
import { freshRows } from './cleaning/held-rows.ts'
import { bestOfEach, spareSentences } from './cleaning/spares.ts'
import { unfedNotes, withoutUnfed } from './cleaning/unfed.ts'
import { valueStep } from './cleaning/value-step.ts'
import { dropWakeReadings } from './cleaning/wake-readings.ts'
import { alignLogs } from './clock/align-logs.ts'
import { laterStamp } from './clock/wall-clock.ts'
import { conditionDrive } from './condition.ts'

export interface BuildOptions {
  readonly vehicle?: Vehicle
  readonly offsets?: readonly (number | null)[]
}

/**
 * Logs → drive: names each series, converts units, drops what cannot be true, puts all logs on one clock,
 * conditions. Uses up the logs: their value and time arrays are changed in place and become the channels'.
 *
 * Drive time = own time · (1 + drift_ppm · 10⁻⁶) + offset_s; 0 is the earliest sample of all logs.
 */
export function buildDrive(logs: readonly RawLog[], options: BuildOptions = {}): Drive {
  const [only] = logs
  if (logs.length === 1 && only!.finished) return asItWas(only!, only!.finished)
  const doubts: UnitDoubt[] = []
  const allNames = nameLogs(logs, options.vehicle ?? {})
  const named = withoutUnfed(
    logs.map((log, at) => {
      const names = withSeveralMotors(allNames[at]!)
      doubts.push(...slippedColumns(log.series, names, log.name))
      const { kept, doubts: more } = doubtfulUnits(cleanSeries(names), log.name)
      doubts.push(...more)
      return withoutEmptyPlaces(kept, options.vehicle ?? {})
    }),
  )
  const woken = named.map(dropWakeReadings)
  const cleaned = logs.map((log, at) => ({ log, named: woken[at]!.cleaned }))
  const clocks = alignLogs(cleaned, options.offsets)
  const moved = new Set<Float64Array>()
  const all: Read[] = []
  cleaned.forEach(({ log, named }, at) => {
    const fresh = freshOfGroups(named)
    for (const each of named) {
      moveOnce(each.series.timeS, clocks[at]!, moved)
      all.push({ channel: toChannel(log, each, fresh.get(each) ?? null), log, cleaned: each })
    }
  })
  const { channels, spares } = bestOfEach(
    all.flatMap(({ channel }) => (channel.timeS.length > 0 ? [channel] : [])),
    (file) => clocks[logs.findIndex(({ name }) => name === file)]?.own,
  )
  let durationS = 0
  for (const { channel } of all) durationS = Math.max(durationS, channel.timeS[channel.timeS.length - 1] ?? 0)
  if (durationS > BOUNDS.driveS) throw tooLong(durationS)
  const drive: Drive = {
    files: cleaned.map(({ log, named }, at) => fileOf(log, named, clocks[at]!)),
    startedAt: startOf(logs, clocks),
    durationS,
    channels,
    spares,
    reports: all.map(report),
    segments: [],
    buses: logs.flatMap((log, at) => (log.bus ? [busOnDriveClock(log.bus, clocks[at]!)] : [])),
    events: logs.flatMap((log, at) =>
      [...log.events, ...woken[at]!.events].map((event) => ({
        ...event,
        at_s: onDriveClock(event.at_s, clocks[at]!),
      })),
    ),
    assumptions: cleaned.flatMap(({ log, named }) =>
      [...(log.notes ?? []), ...emptyPlaceNotes(named), ...unfedNotes(named)].map(
        (note) => `${log.name}: ${note}`,
      ),
    ),
    ...(doubts.length > 0 ? { doubts } : {}),
  }
  const conditioned = conditionDrive(drive, options.vehicle ?? {})
  return { ...conditioned, assumptions: [...conditioned.assumptions, ...spareSentences(conditioned)] }
}

/** A drive that this program wrote: as it was, with a note of where it came from. */
function asItWas(
  { name, notes }: RawLog,
  { frame, channels, spares, vehicle }: NonNullable<RawLog['finished']>,
): Drive {
  const said = (notes ?? []).map((note) => `${name}: ${note}`)
  return { ...frame, assumptions: [...frame.assumptions, ...said], channels, spares, vehicle }
}

/** What the drive keeps of a log: where it came from, what of it was skipped, how its clock lies. */
function fileOf(log: RawLog, named: readonly Cleaned[], clock: DriveFile['clock']): DriveFile {
  return {
    name: log.name,
    sha256: log.sha256,
    layout: log.layout,
    rows: log.rows,
    skipped: [...log.skipped, ...named.flatMap((each) => each.skipped)],
    clock,
    ...(log.repeats && log.repeats.length > 0
      ? { repeats: log.repeats.map((each) => ({ ...each, at_s: onDriveClock(each.at_s, clock) })) }
      : {}),
  }
}

function tooLong(durationS: number): LogError {
  return new LogError(
    'too-long',
    `The logs lie over ${Math.floor(durationS / 86_400)} days; one drive of at most ${BOUNDS.driveS / 86_400} days was expected: review them apart.`,
  )
}

interface Read {
  readonly channel: Channel
  readonly log: RawLog
  readonly cleaned: Cleaned
}

type Clock = DriveFile['clock']

function onDriveClock(ownS: number, clock: Clock): number {
  return ownS * (1 + clock.drift_ppm * 1e-6) + clock.offset_s
}

/** Date and time of drive time 0, by the first log that carries a date. */
function startOf(logs: readonly RawLog[], clocks: readonly Clock[]): string | null {
  const at = logs.findIndex((log) => log.startedAt !== null)
  return at < 0 ? null : laterStamp(logs[at]!.startedAt!, -clocks[at]!.offset_s)
}

function busOnDriveClock(bus: BusSummary, clock: Clock): BusSummary {
  const span = (own: Span): Span => [onDriveClock(own[0], clock), onDriveClock(own[1], clock)]
  return {
    ...bus,
    first_s: onDriveClock(bus.first_s, clock),
    nodes: bus.nodes.map((node) => ({
      ...node,
      silent_span_s: node.silent_span_s && span(node.silent_span_s),
      silences: node.silences.map((each) => ({ ...each, span_s: span(each.span_s) })),
      ...(node.first_s === undefined ? {} : { first_s: onDriveClock(node.first_s, clock) }),
      ...(node.off_at_s ? { off_at_s: node.off_at_s.map((own) => onDriveClock(own, clock)) } : {}),
    })),
  }
}

function moveOnce(timeS: Float64Array, clock: Clock, moved: Set<Float64Array>): void {
  if (moved.has(timeS)) return
  moved.add(timeS)
  if (clock.offset_s === 0 && clock.drift_ppm === 0) return
  const rate = 1 + clock.drift_ppm * 1e-6
  for (let i = 0; i < timeS.length; i++) timeS[i] = timeS[i]! * rate + clock.offset_s
}

/** Held rows, judged per group of channels read together: one family (all cells) on one time base. */
function freshOfGroups(all: readonly Cleaned[]): Map<Cleaned, Uint8Array | null> {
  const groups = new Map<Float64Array, Map<string, Cleaned[]>>()
  const found = new Map<Cleaned, Uint8Array | null>()
  for (const each of all) {
    if (each.series.fresh) {
      found.set(each, each.series.fresh)
      continue
    }
    const entry = catalogueEntry(each.id)
    if (entry?.kind !== 'number') continue
    let byFamily = groups.get(each.series.timeS)
    if (!byFamily) groups.set(each.series.timeS, (byFamily = new Map()))
    const family = byFamily.get(entry.id)
    if (family) family.push(each)
    else byFamily.set(entry.id, [each])
  }
  for (const byFamily of groups.values())
    for (const [id, family] of byFamily) {
      const fresh = freshRows(
        family.map((each) => each.series.values),
        id === 'cell_voltage' ? 8 : Number.POSITIVE_INFINITY,
      )
      for (const each of family) found.set(each, fresh)
    }
  return found
}

function toChannel(log: RawLog, { id, unit, series }: Cleaned, fresh: Uint8Array | null): Channel {
  return {
    id,
    unit,
    timeS: series.timeS,
    values: series.values,
    fresh,
    labels: series.labels,
    file: log.name,
    from: series.name,
    step: series.labels ? 0 : valueStep(series.values),
    polarity: catalogueEntry(id)?.kind === 'switch' ? 'as-named' : null,
  }
}

function report({ channel, log, cleaned }: Read): ChannelReport {
  const period = samplePeriod(channel.timeS)
  return {
    id: channel.id,
    from: `${log.name}: ${channel.from}`,
    unit_in: cleaned.series.unit,
    conversion: cleaned.conversion,
    samples: channel.timeS.length,
    rate_hz: period > 0 ? 1 / period : null,
    gaps: findGaps(channel.timeS, period),
    sureness: cleaned.sureness,
    why: cleaned.why,
  }
}

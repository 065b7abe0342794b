import { identifierText } from '../importers/frames/signal.ts'
import { canopenText } from '../importers/transport/canopen.ts'
import { parameterOf } from '../importers/transport/current-data.ts'
import { diagnosticText } from '../importers/transport/diagnostics.ts'
import { IsoTpReader } from '../importers/transport/iso-tp.ts'
import { J1939Reader, splitJ1939, TRANSFER_CONTROL, TRANSFER_DATA } from '../importers/transport/j1939.ts'
import type { Message } from './captured.ts'

/** What known protocols say on this bus, in lines for people; rows for current data, whose formulas are published. */
export interface Protocols {
  readonly lines: readonly string[]
  readonly rows: readonly Record<string, unknown>[]
  /** Identifiers whose frames are explained by a protocol: no numbers are looked for in them. */
  readonly explained: ReadonlySet<number>
}

const SHOWN = 12

export function protocolsOf(messages: readonly Message[]): Protocols {
  const lines: string[] = []
  const explained = new Set<number>()
  const rows = diagnostics(messages, lines, explained)
  j1939(messages, lines, explained)
  canopen(messages, lines, explained)
  return { lines, rows, explained }
}

const rowBytes = ({ data, stride, bytes }: Message, row: number): Uint8Array =>
  data.subarray(row * stride, row * stride + bytes)

/** Addresses of legislated diagnostics: 0x7DF, 0x7E0 … 0x7EF; 29 bits: 0x18DA…, 0x18DB33F1. Source: ISO 15765-4, from memory. */
const isDiagnostic = (key: number): boolean =>
  key >= 0
    ? key === 0x7df || (key >= 0x7e0 && key <= 0x7ef)
    : [0x18da, 0x18db].includes((key & 0x1fffffff) >>> 16)

function diagnostics(
  messages: readonly Message[],
  lines: string[],
  explained: Set<number>,
): Record<string, unknown>[] {
  const rows: Record<string, unknown>[] = []
  for (const message of messages) {
    if (!isDiagnostic(message.key)) continue
    explained.add(message.key)
    const reader = new IsoTpReader()
    for (let i = 0; i < message.count; i++) reader.frame(message.timeS[i]!, rowBytes(message, i))
    reader.end()
    const where = identifierText(message.key)
    lines.push(
      `${where}: diagnostics (ISO 15765-2): ${reader.messages.length} messages, ${reader.flow.length} flow controls, ${reader.gaps.length} not whole`,
    )
    const seen = new Map<string, number>()
    const parameters = new Set<number>()
    for (const { bytes } of reader.messages) {
      const { what } = diagnosticText(bytes)
      const key = bytes[0] === 0x41 ? `current data ${hex(bytes[1] ?? 0)}` : what
      seen.set(key, (seen.get(key) ?? 0) + 1)
      // a single frame of one parameter: its place is fixed
      if (bytes[0] === 0x41 && bytes.length === 2 + (parameterOf(bytes[1]!)?.bytes ?? -9))
        parameters.add(bytes[1]!)
    }
    for (const [what, count] of [...seen].slice(0, SHOWN)) lines.push(`  ${count} × ${what}`)
    if (seen.size > SHOWN) lines.push(`  and ${seen.size - SHOWN} more kinds`)
    for (const gap of reader.gaps.slice(0, 3)) lines.push(`  at ${gap.atS.toFixed(3)} s: ${gap.what}`)
    for (const pid of [...parameters].sort((a, b) => a - b)) rows.push(currentDataRow(message.key, pid))
  }
  return rows
}

const hex = (value: number): string => `0x${value.toString(16).toUpperCase().padStart(2, '0')}`

/** Byte 0 length, 1 0x41, 2 the parameter, 3 … its value: a row chosen by bytes 1 and 2. */
function currentDataRow(key: number, pid: number): Record<string, unknown> {
  const { name, channel, bytes, factor, offset, unit } = parameterOf(pid)!
  return {
    identifier: identifierText(key),
    extended: key < 0,
    name: `${name} (${identifierText(key)})`,
    ...(channel === null ? {} : { channel }),
    start_bit: 31,
    length: 8 * bytes,
    byte_order: 'big',
    signed: false,
    factor,
    offset,
    unit,
    selector_start_bit: 15,
    selector_length: 16,
    selector_value: 0x4100 | pid,
  }
}

/** A bus of 29-bit identifiers on which transfers are whole, or the usual groups are heard, speaks J1939. */
const USUAL_GROUPS = new Set([
  59904, 60928, 61440, 61441, 61443, 61444, 65226, 65251, 65262, 65265, 65266, 65269, 65271,
])

function j1939(messages: readonly Message[], lines: string[], explained: Set<number>): void {
  const own = messages.filter(({ key }) => key < 0 && !explained.has(key))
  if (own.length === 0) return
  const parts = own.map(({ key }) => splitJ1939(key & 0x1fffffff))
  const reader = new J1939Reader()
  const moved = own.filter((_, m) => [TRANSFER_CONTROL, TRANSFER_DATA].includes(parts[m]!.group))
  // transfers run over two identifiers: their frames in order of time
  const order = moved
    .flatMap((message) =>
      Array.from({ length: message.count }, (_, i) => ({ message, i, t: message.timeS[i]! })),
    )
    .sort((a, b) => a.t - b.t || Number(a.message.key) - Number(b.message.key))
  for (const { message, i, t } of order) reader.frame(t, message.key & 0x1fffffff, rowBytes(message, i))
  reader.end()
  const known = parts.filter(({ group }) => USUAL_GROUPS.has(group)).length
  if (known < 2 && reader.messages.length === 0) return
  for (const { key } of moved) explained.add(key)
  lines.push(
    `29-bit identifiers read as J1939 (SAE J1939-21): ${new Set(parts.map(({ group }) => group)).size} groups from ${new Set(parts.map(({ source }) => source)).size} sources`,
  )
  own.forEach(({ key, count }, m) => {
    const { priority, group, source, destination } = parts[m]!
    if (m < 40)
      lines.push(
        `  ${identifierText(key)}: priority ${priority}, group ${group}, from ${source}${destination === null ? '' : `, to ${destination}`}, ${count} frames`,
      )
  })
  if (own.length > 40) lines.push(`  and ${own.length - 40} more`)
  if (moved.length > 0)
    lines.push(`  transfers: ${reader.messages.length} whole, ${reader.gaps.length} not whole`)
  for (const { group, source, bytes } of reader.messages.slice(0, SHOWN))
    lines.push(`  group ${group} from ${source}: ${bytes.length} bytes`)
  for (const gap of reader.gaps.slice(0, 3)) lines.push(`  at ${gap.atS.toFixed(3)} s: ${gap.what}`)
}

/** Heartbeats of one byte that say a state, from one node at least: the bus speaks CANopen. */
function canopen(messages: readonly Message[], lines: string[], explained: Set<number>): void {
  const told = messages.flatMap((message) => {
    if (message.key < 0 || explained.has(message.key)) return []
    const texts = new Map<string, number>()
    for (let i = 0; i < Math.min(message.count, 20_000); i++) {
      const text = canopenText(message.key, rowBytes(message, i))
      if (!text) return []
      texts.set(text.what, (texts.get(text.what) ?? 0) + 1)
    }
    return [{ message, texts }]
  })
  if (!told.some(({ message }) => message.key > 0x700)) return
  lines.push('CANopen (CiA 301):')
  for (const { message, texts } of told) {
    explained.add(message.key)
    const node = message.key === 0 || message.key === 0x80 ? '' : ` node ${message.key & 0x7f}`
    const what = [...texts].map(([text, count]) => `${text} (${count})`)
    lines.push(`  ${identifierText(message.key)}${node}: ${what.slice(0, 6).join('; ')}`)
  }
}

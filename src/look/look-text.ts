import { identifierText } from '../importers/frames/signal.ts'
import type { Look } from './look.ts'
import type { Content, MessageLook } from './look-message.ts'
import { BEFORE_TRYING } from './marks.ts'
import { tableRow, whereText } from './proposal.ts'
import { bitsOf } from './raw-values.ts'

const percent = (share: number): string => `${(100 * share).toFixed(0)} %`

/** A first look in lines for people. */
export function lookText(look: Look, log: string): string {
  const { captured } = look
  const lines = [
    `${captured.name}: ${captured.dataFrames} frames of ${captured.messages.length} identifiers${captured.errorFrames > 0 ? `, ${captured.errorFrames} bus errors` : ''}`,
    ...captured.report.skipped.map((each) => `skipped: ${each.what}, ${each.count} (first: ${each.first})`),
    ...(captured.left > 0 ? [`${captured.left} frames beyond what is looked at once were left out`] : []),
    `byte order: ${look.order === null ? 'nothing tells; little endian is taken' : `${look.order} endian by carries from byte to byte`}`,
    '',
  ]
  for (const [m, each] of look.looks.entries()) lines.push(...messageLines(look, each, m))
  if (look.protocols.lines.length > 0) lines.push('', ...look.protocols.lines)
  if (look.answering.length > 0 || log === 'marks') lines.push('', ...markLines(look))
  lines.push('', ...proposalLines(look))
  return `${lines.join('\n')}\n`
}

function messageLines(
  look: Look,
  { message, counters, checksum, selector, contents }: MessageLook,
  m: number,
): string[] {
  const { rateHz, jitterS } = look.timings[m]!
  const sender = look.senders[m]!
  const head = [
    identifierText(message.key).padEnd(10),
    `${message.least === message.bytes ? message.bytes : `${message.least}–${message.bytes}`} bytes`.padEnd(
      10,
    ),
    (rateHz === null ? 'once' : `${rateHz.toPrecision(3)} /s`).padEnd(10),
    (jitterS === null ? 'now and then' : `± ${(1000 * jitterS).toFixed(1)} ms`).padEnd(13),
    (sender < 0 ? '' : `sender ${letter(sender)}`).padEnd(10),
  ].join(' ')
  const parts = [
    ...counters.map((each) => `counter ${bitsText(bitsOf(each))}, 0 … ${each.highest}`),
    ...(checksum
      ? [
          `checksum byte ${checksum.byte}${checksum.part === 'byte' ? '' : `, ${checksum.part} half`}: ${checksum.kind} (${percent(checksum.share)} of frames fit)`,
        ]
      : []),
    ...(selector ? [`selector ${bitsText(bitsOf(selector))}: ${selector.values.length} contents`] : []),
    ...[...new Set(contents.flatMap(({ text }) => (text ? [`text byte ${text.byte}: “${text.text}”`] : [])))],
    ...fieldTexts(look, message.key, contents),
  ]
  return [head.trimEnd(), ...parts.map((part) => `    ${part}`)]
}

/** Senders are lettered: A … Z, then numbered. */
const letter = (sender: number): string =>
  sender < 26 ? String.fromCharCode(65 + sender) : String(sender + 1)

function fieldTexts(look: Look, key: number, contents: readonly Content[]): string[] {
  const own = look.candidates.filter((each) => each.look.message.key === key)
  const numbers = new Map<string, number>()
  for (const { place } of own) {
    if (
      place.order === 'one byte' &&
      place.length === 8 &&
      own.some(
        (each) =>
          each.place !== place &&
          each.place.order === 'others' &&
          bitsOf(each.place).includes(bitsOf(place)[0]!),
      )
    )
      continue
    const text = `number ${bitsText(bitsOf(place))}, ${place.signed ? 'signed' : 'unsigned'}${place.length > 8 ? `, ${place.byteOrder}` : ''}`
    numbers.set(text, (numbers.get(text) ?? 0) + 1)
  }
  const still = contents.length === 1 ? constantBytes(contents[0]!) : []
  return [
    ...[...numbers].map(([text, n]) => (n > 1 ? `${text} (in ${n} contents)` : text)),
    ...(still.length > 0 ? [`never changes: bytes ${still.join(', ')}`] : []),
  ]
}

function constantBytes({ message, flips, without }: Content): number[] {
  return Array.from({ length: message.bytes }, (_, k) => k).filter(
    (k) => without[k] === 0 && flips.flips.subarray(8 * k, 8 * k + 8).every((count) => count === 0),
  )
}

function bitsText(bits: readonly number[]): string {
  const low = Math.min(...bits)
  const high = Math.max(...bits)
  const whole = bits.length % 8 === 0 && low % 8 === 0
  if (whole) return bits.length === 8 ? `byte ${low >> 3}` : `bytes ${low >> 3}–${high >> 3}`
  return low >> 3 === high >> 3 ? `byte ${low >> 3} bits ${low & 7}–${high & 7}` : `bits ${low}–${high}`
}

function markLines({ answering }: Look): string[] {
  const lines = [...BEFORE_TRYING, '']
  if (answering.length === 0) return [...lines, 'No field changed at the marked moments.']
  for (const each of answering)
    lines.push(
      `${each.mark}: ${each.where}: changed at ${each.answered} of ${each.marks} marks, and in ${percent(each.elsewhere)} of the stretches between`,
    )
  return lines
}

function proposalLines(look: Look): string[] {
  const { proposals, protocols, clock } = look
  if (proposals.length === 0 && protocols.rows.length === 0)
    return [
      'No row of a signal table is proposed: nothing moves like a known channel. A second log of the same drive beside it tells most.',
    ]
  const lines = [
    `Proposed rows${clock ? ` (beside the other log, ${clock.offsetS.toFixed(2)} s later on this clock)` : ', from the bus alone'}; nothing is used until somebody accepts it:`,
  ]
  for (const proposal of proposals) {
    const { candidate, channel, factor, offset, sureness, why, otherwise } = proposal
    const { place } = candidate
    lines.push(
      `  ${percent(sureness).padStart(5)} sure  ${channel.padEnd(22)} ${whereText(candidate)} ${place.byteOrder}${place.signed ? ' signed' : ''} × ${factor}${offset === 0 ? '' : ` ${offset < 0 ? '−' : '+'} ${Math.abs(offset)}`}: ${why}${otherwise ? `; else ${otherwise}` : ''}`,
    )
  }
  for (const row of protocols.rows) lines.push(`  published formula: ${row.name}`)
  return lines
}

/** The same for programs; `rows` can be saved as a signal table as they are. */
export function lookJson(look: Look): string {
  const { captured, looks, timings, senders, answering } = look
  return `${JSON.stringify(
    {
      schema: 1,
      file: captured.name,
      frames: captured.dataFrames,
      byte_order: look.order,
      identifiers: looks.map(({ message, counters, checksum, selector }, m) => ({
        identifier: identifierText(message.key),
        extended: message.key < 0,
        frames: message.count,
        bytes: message.bytes,
        rate_hz: timings[m]!.rateHz,
        jitter_s: timings[m]!.jitterS,
        sender: senders[m]! < 0 ? null : senders[m],
        counters: counters.map((each) => ({
          start_bit: each.startBit,
          length: each.length,
          byte_order: each.byteOrder,
          highest: each.highest,
        })),
        checksum,
        selector: selector && {
          start_bit: selector.startBit,
          length: selector.length,
          values: selector.values,
        },
      })),
      protocols: look.protocols.lines,
      before_trying: answering.length > 0 ? BEFORE_TRYING : [],
      answering,
      clock_offset_s: look.clock?.offsetS ?? null,
      signals: [
        ...look.proposals.map((each) => ({
          ...tableRow(each),
          sureness: each.sureness,
          why: each.why,
          otherwise: each.otherwise,
        })),
        ...look.protocols.rows.map((row) => ({
          ...row,
          sureness: 0.95,
          why: 'published formula',
          otherwise: null,
        })),
      ],
    },
    null,
    1,
  )}\n`
}

/** Rows sure enough, as a signal table to look through and use: one row a name. */
export function proposedTable(look: Look, least: number): string {
  const names = new Set<string>()
  const rows = [
    ...look.proposals.filter((each) => each.sureness >= least).map(tableRow),
    ...look.protocols.rows,
  ].filter((row) => !names.has(String(row.name)) && names.add(String(row.name)))
  return `${JSON.stringify({ signals: rows }, null, 1)}\n`
}

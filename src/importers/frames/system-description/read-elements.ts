import { SaxesParser } from 'saxes'
import type { LogSource } from '../../../bytes/file-source.ts'
import { LogError } from '../../../errors.ts'
import type { Element } from './element.ts'

/** Elements that are kept whole; everything else is passed over as it streams by. */
const KEPT = new Set([
  'CAN-FRAME-TRIGGERING',
  'CAN-FRAME',
  'I-SIGNAL-I-PDU',
  'MULTIPLEXED-I-PDU',
  'I-SIGNAL',
  'SYSTEM-SIGNAL',
  'COMPU-METHOD',
  'UNIT',
  'SW-BASE-TYPE',
  'FRAME-PORT',
])

/** Parts of one kept element, and kept elements of one file, at most: memory stays bounded whatever the file claims. */
const MOST_PARTS = 100_000
const MOST_ELEMENTS = 400_000
const DEEPEST = 200

/** A kept element, its path by short names (`/Package/Name`) and the ECU that it is in. */
export interface Kept {
  readonly element: Element
  readonly path: string
  readonly ecu: string | null
}

/**
 * Streams an AUTOSAR file and hands over each kept element as it closes. No entity but the five of XML is known, none is
 * expanded: a file that uses others is refused.
 * @throws LogError naming the line
 */
export async function readElements(
  source: LogSource,
  take: (kept: Kept) => void,
): Promise<{ readonly bitRate: number | null }> {
  const parser = new SaxesParser({ xmlns: false })
  const stack: { name: string; short: string }[] = []
  const open: Element[] = []
  let parts = 0
  let elements = 0
  let text = ''
  let bitRate: number | null = null
  const refuse = (what: string): never => {
    throw new LogError(
      'signals',
      `${source.name}: line ${parser.line}: ${what}; an AUTOSAR system description (ARXML) was expected.`,
    )
  }
  parser.on('error', (error) => refuse(error.message.replace(/^(\S*:)?\d+:\d+: /, '').replace(/\.$/, '')))
  parser.on('opentag', ({ name: full }) => {
    const name = full.slice(full.indexOf(':') + 1)
    if (stack.length === 0 && name !== 'AUTOSAR') refuse(`the file begins with <${full.slice(0, 40)}>`)
    if (stack.length > DEEPEST) refuse('elements lie too deep')
    stack.push({ name, short: '' })
    text = ''
    if (open.length === 0 && !KEPT.has(name)) return
    if (open.length === 0) parts = 0
    if (++parts > MOST_PARTS) refuse(`one element has over ${MOST_PARTS} parts`)
    const element: Element = { name, text: '', children: [] }
    open.at(-1)?.children.push(element)
    open.push(element)
  })
  parser.on('text', (more) => {
    if (text.length < 10_000) text += more
  })
  parser.on('closetag', () => {
    const { name, short } = stack.pop()!
    if (name === 'SHORT-NAME' && stack.length > 0) stack.at(-1)!.short = text.trim()
    if (name === 'BAUDRATE' && stack.some((each) => each.name === 'CAN-CLUSTER'))
      bitRate ??= Number(text) || null
    const element = open.pop()
    if (element) {
      element.text = element.children.length > 0 ? '' : text
      if (open.length === 0) {
        if (++elements > MOST_ELEMENTS) refuse(`over ${MOST_ELEMENTS} elements`)
        const path = [...stack.map((each) => each.short), short].filter((each) => each !== '').join('/')
        const ecu = stack.find((each) => each.name === 'ECU-INSTANCE')?.short ?? null
        take({ element, path: `/${path}`, ecu })
      }
    }
    text = ''
  })
  const decoder = new TextDecoder('utf-8')
  for await (const chunk of source.chunks()) parser.write(decoder.decode(chunk, { stream: true }))
  const damage = source.damage()
  if (damage) refuse(damage)
  parser.close()
  return { bitRate }
}

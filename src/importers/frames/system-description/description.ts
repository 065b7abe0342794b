import { type Element, everyInside, inside, numberOf, textOf } from './element.ts'
import type { Kept } from './read-elements.ts'

/** What is kept of a system description, by path. Small records; the elements themselves are let go. */
export class Description {
  readonly triggerings: {
    readonly frame: string
    readonly identifier: number
    readonly extended: boolean
    readonly ports: readonly string[]
  }[] = []
  readonly frames = new Map<string, { readonly name: string; readonly pdus: readonly Mapped[] }>()
  readonly pdus = new Map<string, { readonly periodS: number | null; readonly signals: readonly Mapped[] }>()
  readonly multiplexed = new Map<string, Multiplexed>()
  readonly signals = new Map<string, SignalPart>()
  readonly systemSignals = new Map<string, Props>()
  readonly methods = new Map<string, Method>()
  readonly units = new Map<string, string>()
  /** Encoding by base type: `2C` is signed. */
  readonly baseTypes = new Map<string, string>()
  /** Ports through which frames are sent → ECU. */
  readonly senders = new Map<string, string>()

  take({ element, path, ecu }: Kept): void {
    switch (element.name) {
      case 'CAN-FRAME-TRIGGERING':
        this.#triggering(element)
        break
      case 'CAN-FRAME':
        this.frames.set(path, {
          name: path.slice(path.lastIndexOf('/') + 1),
          pdus: everyInside(element, 'PDU-TO-FRAME-MAPPING').map((each) => mapped(each, 'PDU-REF')),
        })
        break
      case 'I-SIGNAL-I-PDU':
        this.pdus.set(path, {
          periodS: periodOf(element),
          signals: everyInside(element, 'I-SIGNAL-TO-I-PDU-MAPPING').map((each) =>
            mapped(each, 'I-SIGNAL-REF'),
          ),
        })
        break
      case 'MULTIPLEXED-I-PDU':
        this.multiplexed.set(path, multiplexedOf(element))
        break
      case 'I-SIGNAL':
        this.signals.set(path, {
          ...propsOf(inside(element, 'NETWORK-REPRESENTATION-PROPS')),
          name: path.slice(path.lastIndexOf('/') + 1),
          length: numberOf(element, 'LENGTH') ?? 0,
          init: numberOf(inside(element, 'INIT-VALUE'), 'VALUE') ?? null,
          system: textOf(element, 'SYSTEM-SIGNAL-REF') ?? null,
        })
        break
      case 'SYSTEM-SIGNAL':
        this.systemSignals.set(path, propsOf(inside(element, 'PHYSICAL-PROPS') ?? element))
        break
      case 'COMPU-METHOD':
        this.methods.set(path, methodOf(element))
        break
      case 'UNIT':
        this.units.set(path, textOf(element, 'DISPLAY-NAME') ?? path.slice(path.lastIndexOf('/') + 1))
        break
      case 'SW-BASE-TYPE':
        this.baseTypes.set(path, textOf(element, 'BASE-TYPE-ENCODING') ?? 'NONE')
        break
      case 'FRAME-PORT':
        if (ecu !== null && textOf(element, 'COMMUNICATION-DIRECTION') === 'OUT') this.senders.set(path, ecu)
        break
    }
  }

  #triggering(element: Element): void {
    const frame = textOf(element, 'FRAME-REF')
    const identifier = numberOf(element, 'IDENTIFIER')
    if (frame === undefined || identifier === undefined) return
    this.triggerings.push({
      frame,
      identifier,
      extended: textOf(element, 'CAN-ADDRESSING-MODE') === 'EXTENDED',
      ports: everyInside(element, 'FRAME-PORT-REF').map((each) => each.text.trim()),
    })
  }
}

/** A thing at a place in another: `start` as the standard names it (lowest bit when little, highest when big). */
export interface Mapped {
  readonly ref: string
  readonly start: number
  readonly order: 'little' | 'big'
}

export interface Multiplexed {
  readonly selector: { readonly start: number; readonly length: number; readonly order: 'little' | 'big' }
  readonly fixed: readonly string[]
  readonly chosen: readonly { readonly pdu: string; readonly code: number }[]
}

export interface Props {
  readonly method: string | null
  readonly unit: string | null
  readonly baseType: string | null
  /** Raw value that means none. */
  readonly invalid: number | null
}

export interface SignalPart extends Props {
  readonly name: string
  readonly length: number
  readonly init: number | null
  readonly system: string | null
}

/** Internal to physical: one line, and raw values that stand for words. */
export interface Method {
  readonly line: { readonly factor: number; readonly offset: number } | null
  /** Scales with different lines: no one line says it. */
  readonly many: boolean
  readonly words: readonly number[]
  readonly unit: string | null
}

/** Byte order by `PACKING-BYTE-ORDER`; least significant byte first is little. */
const orderOf = (element: Element | undefined, name: string): 'little' | 'big' =>
  textOf(element, name) === 'MOST-SIGNIFICANT-BYTE-FIRST' ? 'big' : 'little'

const mapped = (element: Element, ref: string): Mapped => ({
  ref: textOf(element, ref) ?? '',
  start: numberOf(element, 'START-POSITION') ?? 0,
  order: orderOf(element, 'PACKING-BYTE-ORDER'),
})

function multiplexedOf(element: Element): Multiplexed {
  return {
    selector: {
      start: numberOf(element, 'SELECTOR-FIELD-START-POSITION') ?? 0,
      length: numberOf(element, 'SELECTOR-FIELD-LENGTH') ?? 8,
      order: orderOf(element, 'SELECTOR-FIELD-BYTE-ORDER'),
    },
    fixed: everyInside(element, 'STATIC-PART').flatMap((part) => textOf(part, 'I-PDU-REF') ?? []),
    chosen: everyInside(element, 'DYNAMIC-PART-ALTERNATIVE').flatMap((part) => {
      const pdu = textOf(part, 'I-PDU-REF')
      const code = numberOf(part, 'SELECTOR-FIELD-CODE')
      return pdu === undefined || code === undefined ? [] : [{ pdu, code }]
    }),
  }
}

/** The period of cyclic sending, whatever the schema calls what is around it. */
function periodOf(element: Element): number | null {
  const cyclic = inside(element, 'CYCLIC-TIMING')
  return numberOf(inside(cyclic, 'TIME-PERIOD') ?? cyclic, 'VALUE') ?? null
}

const propsOf = (element: Element | undefined): Props => ({
  method: textOf(element, 'COMPU-METHOD-REF') ?? null,
  unit: textOf(element, 'UNIT-REF') ?? null,
  baseType: textOf(element, 'BASE-TYPE-REF') ?? null,
  invalid: numberOf(inside(element, 'INVALID-VALUE'), 'VALUE') ?? null,
})

/** Words are kept where they stand for single raw values. */
const MOST_WORDS = 256

function methodOf(element: Element): Method {
  const scales = everyInside(inside(element, 'COMPU-INTERNAL-TO-PHYS'), 'COMPU-SCALE')
  const lines: { factor: number; offset: number }[] = []
  const words: number[] = []
  for (const scale of scales) {
    const coefficients = inside(scale, 'COMPU-RATIONAL-COEFFS')
    if (coefficients) {
      const above = everyInside(inside(coefficients, 'COMPU-NUMERATOR'), 'V').map((each) => Number(each.text))
      const below = everyInside(inside(coefficients, 'COMPU-DENOMINATOR'), 'V').map((each) =>
        Number(each.text),
      )
      const divisor = below[0] ?? 1
      if (divisor !== 0) lines.push({ factor: (above[1] ?? 0) / divisor, offset: (above[0] ?? 0) / divisor })
    } else if (inside(scale, 'COMPU-CONST')) {
      const low = numberOf(scale, 'LOWER-LIMIT')
      const high = numberOf(scale, 'UPPER-LIMIT') ?? low
      if (low !== undefined && low === high && words.length < MOST_WORDS) words.push(low)
    }
  }
  const line = lines.find((each) => each.factor !== 0) ?? null
  return {
    line,
    many: lines.some((each) => each.factor !== line?.factor || each.offset !== line?.offset),
    words,
    unit: textOf(element, 'UNIT-REF') ?? null,
  }
}

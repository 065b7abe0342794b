import { currentData } from './current-data.ts'
import { troubleCode } from './trouble-code.ts'

/**
 * What a diagnostic message says, in words; values of identifiers stay raw. Services by ISO 14229-1 (0x22 read by
 * identifier, 0x19 trouble codes, 0x7F refused, 0x10, 0x11, 0x27, 0x28, 0x3E …) and SAE J1979 (modes 1, 3, 7, 9), answers
 * 0x40 higher. Source: from memory.
 */
export interface DiagnosticText {
  readonly kind: 'request' | 'answer' | 'refusal' | 'other'
  readonly what: string
  /** Trouble codes that it names. */
  readonly codes: readonly string[]
}

const SERVICES: Readonly<Record<number, string>> = {
  1: 'current data',
  2: 'freeze frame',
  3: 'stored trouble codes',
  4: 'clearing of trouble codes',
  7: 'pending trouble codes',
  9: 'vehicle information',
  10: 'permanent trouble codes',
  16: 'session',
  17: 'reset',
  20: 'clearing of trouble codes',
  25: 'trouble codes',
  34: 'data by identifier',
  35: 'memory by address',
  39: 'security access',
  40: 'communication control',
  46: 'writing by identifier',
  47: 'input and output control',
  49: 'routine',
  52: 'download',
  54: 'transfer of data',
  55: 'end of transfer',
  62: 'tester present',
  133: 'control of trouble code setting',
}

const REFUSED: Readonly<Record<number, string>> = {
  16: 'refused in general',
  17: 'service not supported',
  18: 'sub-function not supported',
  19: 'wrong length',
  34: 'conditions not right',
  49: 'out of range',
  51: 'access denied',
  53: 'wrong key',
  120: 'answer follows',
  126: 'sub-function not in this session',
  127: 'service not in this session',
}

const hex = (bytes: Uint8Array): string =>
  Buffer.from(bytes)
    .toString('hex')
    .toUpperCase()
    .replace(/(..)(?=.)/g, '$1 ')
const number = (value: number, digits: number): string =>
  `0x${value.toString(16).toUpperCase().padStart(digits, '0')}`

export function diagnosticText(bytes: Uint8Array): DiagnosticText {
  const service = bytes[0] ?? 0
  if (service === 0x7f && bytes.length >= 3)
    return {
      kind: 'refusal',
      what: `${nameOf(bytes[1]!)} refused: ${REFUSED[bytes[2]!] ?? `code ${number(bytes[2]!, 2)}`}`,
      codes: [],
    }
  if (SERVICES[service]) return { kind: 'request', what: asked(bytes), codes: [] }
  if (!SERVICES[service - 0x40]) return { kind: 'other', what: hex(bytes), codes: [] }
  const codes = codesOf(bytes)
  const shown =
    codes.length > 0
      ? codes.join(', ')
      : service === 0x41
        ? currentData(bytes)
            .map(
              ({ parameter, value }) => `${parameter.name} ${Number(value.toPrecision(6))} ${parameter.unit}`,
            )
            .join(', ') || hex(bytes.subarray(1))
        : service === 0x62 && bytes.length >= 3
          ? `identifier ${number((bytes[1]! << 8) | bytes[2]!, 4)}: ${hex(bytes.subarray(3))}`
          : hex(bytes.subarray(1))
  return { kind: 'answer', what: `${nameOf(service - 0x40)}: ${shown}`, codes }
}

function asked(bytes: Uint8Array): string {
  const name = nameOf(bytes[0]!)
  if (bytes[0] === 0x22 && bytes.length >= 3)
    return `${name} ${number((bytes[1]! << 8) | bytes[2]!, 4)} asked`
  return bytes.length > 1 ? `${name} ${hex(bytes.subarray(1))} asked` : `${name} asked`
}

const nameOf = (service: number): string => SERVICES[service] ?? `service ${number(service, 2)}`

/** Modes 3, 7, 0x0A: a count and two bytes a code; service 0x19, sub-function 2: a mask, then three bytes and a status. */
function codesOf(bytes: Uint8Array): string[] {
  const codes: string[] = []
  if (bytes[0] === 0x43 || bytes[0] === 0x47 || bytes[0] === 0x4a) {
    for (let at = 2; at + 1 < bytes.length; at += 2)
      if (bytes[at] !== 0 || bytes[at + 1] !== 0) codes.push(troubleCode(bytes[at]!, bytes[at + 1]!))
  } else if (bytes[0] === 0x59 && bytes[1] === 0x02) {
    for (let at = 3; at + 3 < bytes.length; at += 4)
      codes.push(
        `${troubleCode(bytes[at]!, bytes[at + 1]!)}-${number(bytes[at + 2]!, 2).slice(2)} (status ${number(bytes[at + 3]!, 2)})`,
      )
  }
  return codes
}

/** Which column of a frame log holds what; −1: there is none. */
export interface FrameRoles {
  readonly time: number
  readonly identifier: number
  readonly extended: number
  readonly length: number
  readonly kind: number
  readonly data: readonly number[]
  /** The data's bytes are split by the delimiter itself and run on after its column. */
  readonly dataRunsOn?: boolean
}

export const HEX = /^(0x)?[0-9a-f]+[hx]?$/i

/** Blanks last: a header of several words would fall apart. `#`: blanks, and between identifier and data a `#`. */
export const DELIMITERS = [';', '\t', ',', '|', ' ', '#'] as const

/** Splits a plain line; quotes and brackets around a whole field are dropped. */
export const fieldsOf = (line: string, delimiter: string): string[] => {
  const blanks = delimiter === ' ' || delimiter === '#'
  const fields = blanks ? line.trim().split(delimiter === '#' ? /[ #]+/ : / +/) : line.split(delimiter)
  return fields.map((field) => field.trim().replace(/^(?:"(.*)"|\((.*)\)|\[(.*)\])$/, '$1$2$3'))
}

/** Bytes in one field: `01 02`, `1-255-0`, `0x01,0x02`, `0102`. */
export const bytesIn = (field: string): string[] => field.split(/[\s:|,-]+/).filter((byte) => byte !== '')

import type { FieldKind } from './vehicle-fields.ts'

/** A field of the vehicle file as the text in its input; empty where it is not given. */
export function fieldText(value: unknown, kind: FieldKind): string {
  if (value === undefined || value === null) return ''
  switch (kind) {
    case 'lists':
    case 'pairs':
      return (value as unknown[][]).map((row) => row.join(', ')).join('\n')
    case 'numbers':
    case 'pair':
    case 'words':
    case 'choices':
      return Array.isArray(value) ? value.join(', ') : String(value)
    case 'yes-no':
      return value ? 'yes' : 'no'
    case 'yes-no-pair':
      return (value as boolean[]).map((each) => (each ? 'yes' : 'no')).join(', ')
    case 'json':
      return typeof value === 'string' ? value : JSON.stringify(value)
    default:
      return String(value)
  }
}

/** The text as the vehicle file holds it; undefined for an empty text. What cannot be read is left for the schema to refuse. */
export function fieldValue(text: string, kind: FieldKind): unknown {
  const plain = text.trim()
  if (plain === '') return undefined
  const number = (part: string): unknown => {
    const value = Number(part.trim())
    return part.trim() === '' || Number.isNaN(value) ? part.trim() : value
  }
  const parts = plain.split(/[,;]\s*|\s+/).filter(Boolean)
  const yes = (word: string): unknown => (word === 'yes' ? true : word === 'no' ? false : word)
  const lines = plain.split('\n').filter((line) => line.trim() !== '')
  switch (kind) {
    case 'number':
      return number(plain)
    case 'numbers':
      return parts.length === 1 ? number(parts[0]!) : parts.map(number)
    case 'pair':
      return parts.map(number)
    case 'words':
      return plain.split(/[,;]/).map((word) => word.trim())
    case 'choices':
      return parts
    case 'yes-no':
      return yes(plain)
    case 'yes-no-pair':
      return parts.map(yes)
    case 'lists':
    case 'pairs':
      return lines.map((line) =>
        line
          .split(/[,;]\s*|\s+/)
          .filter(Boolean)
          .map(number),
      )
    case 'json':
      try {
        return JSON.parse(plain)
      } catch {
        return plain
      }
    default:
      return plain
  }
}

/** Reads `pack.cells` out of a vehicle. */
export function atPath(vehicle: unknown, path: string): unknown {
  return path
    .split('.')
    .reduce<unknown>((at, key) => (at as Record<string, unknown> | undefined)?.[key], vehicle)
}

/** The vehicle with a field set, or taken out where the value is undefined; empty parts go too. */
export function withPath(
  vehicle: Readonly<Record<string, unknown>>,
  path: string,
  value: unknown,
): Record<string, unknown> {
  const [key, ...rest] = path.split('.')
  const inner =
    rest.length === 0
      ? value
      : withPath((vehicle[key!] as Record<string, unknown>) ?? {}, rest.join('.'), value)
  const { [key!]: _, ...others } = vehicle
  const empty = inner === undefined || (rest.length > 0 && Object.keys(inner as object).length === 0)
  return empty ? others : { ...vehicle, [key!]: inner }
}

/**
 * Characters that do something to a terminal or a page instead of being read: control characters, and those that turn the
 * direction of the text about. A name that holds one shows it as what it is: `Speed<U+202E>`.
 */
const HIDDEN =
  // biome-ignore lint/suspicious/noControlCharactersInRegex: those are what is marked
  /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ufeff]/g

const marked = (character: string): string =>
  `<U+${character.codePointAt(0)!.toString(16).toUpperCase().padStart(4, '0')}>`

/** Text of several lines for a terminal: line ends and tabs stay. */
export function visible(text: string): string {
  return text.replace(HIDDEN, marked)
}

/** A name of a column, file or car: it stands in one line. */
export function visibleName(name: string): string {
  return visible(name).replace(/[\n\t]/g, marked)
}

/** Every text in a value read from JSON, made visible; anything else as it is. */
export function visibleAll<T>(value: T): T {
  if (typeof value === 'string') return visible(value) as T
  if (Array.isArray(value)) return value.map(visibleAll) as T
  if (typeof value !== 'object' || value === null) return value
  return Object.fromEntries(Object.entries(value).map(([key, each]) => [visible(key), visibleAll(each)])) as T
}

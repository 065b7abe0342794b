/** What no sentence for people may hold: figures that are none, clauses that broke. */
const BROKEN: readonly (readonly [RegExp, string])[] = [
  [/\bNaN\b|\bInfinity\b|\bundefined\b|\[object /, 'a value that is none'],
  [/(^|[\s(±])[-−]0(?![.,\d])/, 'a negative zero'],
  [/\bnull\b/, 'null'],
  [/ {2,}\S/, 'two blanks'],
  [/\s[,.;:](\s|$)/, 'a blank before a stop'],
  [/\(\s*\)/, 'empty brackets'],
  [/[.!?]\s+[a-z]/, 'a small letter after a full stop'],
  [/\.\.(?!\.)/, 'two full stops'],
  [/±\s*-/, 'a negative ±'],
]

/** Keys whose strings are names, codes or a person's own words, not sentences of ours. */
const NAMES = new Set([
  'id',
  'name',
  'sha256',
  'from',
  'kind',
  'channels',
  'unit',
  'unit_in',
  'key',
  'file',
  'limit_source',
])

/** Every broken sentence below a value, with its place. */
export function brokenSentences(value: unknown, place = ''): string[] {
  if (typeof value === 'string')
    return BROKEN.filter(([pattern]) => pattern.test(value)).map(([, what]) => `${place}: ${what}: ${value}`)
  if (Array.isArray(value)) return value.flatMap((each, at) => brokenSentences(each, `${place}[${at}]`))
  if (value === null || typeof value !== 'object') return []
  return Object.entries(value).flatMap(([key, each]) =>
    NAMES.has(key) ? [] : brokenSentences(each, place === '' ? key : `${place}.${key}`),
  )
}

/** What no sentence for people may hold: figures that are none, clauses that broke. */
export const BROKEN: readonly (readonly [string, RegExp])[] = [
  ['not a figure', /\bNaN\b|\bundefined\b|\bInfinity\b|\[object|\bnull\b/],
  ['negative zero', /(^|[\s(±])[-−]0(?![.,\d])|(?<![\d.])[-−]0(?:\.0+)?(?![.\d])/],
  ['a negative half width', /±\s*[-−]/],
  ['two blanks', / {2,}\S/],
  ['a clause that broke', /;\.|,\.|:\.|\.\.(?!\.)|\(\s*\)|^[,;.:]|: *$| ,| ;|\s[,.;:](\s|$)/],
  ['a small letter after a full stop', /[.!?]\s+[a-z]|[a-zé)%°ΩVAs] \. [a-z]/],
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

/** What a file holds, quoted as it stands there. */
const QUOTED = /"[^"]*"/g

/** Every broken sentence below a value, with its place. */
export function brokenSentences(value: unknown, place = ''): string[] {
  if (typeof value === 'string')
    return BROKEN.filter(([, pattern]) => pattern.test(value.replace(QUOTED, '""'))).map(
      ([what]) => `${place}: ${what}: ${value}`,
    )
  if (Array.isArray(value)) return value.flatMap((each, at) => brokenSentences(each, `${place}[${at}]`))
  if (value === null || typeof value !== 'object') return []
  return Object.entries(value).flatMap(([key, each]) =>
    NAMES.has(key) ? [] : brokenSentences(each, place === '' ? key : `${place}.${key}`),
  )
}

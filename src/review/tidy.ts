/** A rounded figure that became "-0.00": nothing is below nothing. */
const MINUS_NOTHING = /(^|[\s(])-(0(?:\.0+)?)(?![\d.\w])/g

/**
 * Figures as they leave the analyses: what is not finite is null, negative zero is 0, nine significant digits (below
 * what any log resolves), so that every reader sees the same and the same logs give the same bytes. Walks objects and
 * lists; returns fresh ones.
 */
export function tidy<T>(value: T): T {
  if (typeof value === 'number')
    return (Number.isFinite(value) ? Number(value.toPrecision(9)) + 0 : null) as T
  if (typeof value === 'string') return value.replace(MINUS_NOTHING, '$1$2') as T
  if (Array.isArray(value)) return value.map(tidy) as T
  if (value !== null && typeof value === 'object')
    return Object.fromEntries(Object.entries(value).map(([key, each]) => [key, tidy(each)])) as T
  return value
}

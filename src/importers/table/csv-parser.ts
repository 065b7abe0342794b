import { createRequire } from 'node:module'
import type { Options, parse } from 'csv-parse/sync'

const require = createRequire(import.meta.url)
let parser: { readonly parse: typeof parse } | null = null

/** csv-parse, loaded by the first table that needs it: one without quotes never does. */
export function csvParse(text: string, options: Options): unknown[] {
  parser ??= require('csv-parse/sync') as { readonly parse: typeof parse }
  return parser.parse(text, options)
}

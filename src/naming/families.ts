import { quantityOf } from '../../shared/units.ts'
import { FEWEST_PEERS } from '../math/fewest.ts'
import { FAMILY_RULES } from './channel-names.ts'
import type { Column } from './column.ts'
import { valuesFit } from './column-values.ts'
import type { Family } from './family.ts'
import { channelNumbers } from './family-numbers.ts'
import { matchWords, wordsTell } from './match-words.ts'
import { VOCABULARY } from './vocabulary.ts'
import { cornerFamily } from './wheel-corners.ts'

/** A rule under it names by loose words only. */
const SURE_RULE = 0.8
/** Under it no family is named; chosen on invented layouts, no source. */
const SURE = 0.5
/** Fewer columns that read like cells may be anything. */
const FEWEST_CELLS = 6
/** Fewer columns that read like sensors may be anything. */
const FEWEST_SENSORS = 3
/** Between these a pack's sensors read; common practice, no source. */
const COLDEST_C = -30
/** See above. */
const HOTTEST_C = 90
/** Modules of one pack lie no farther apart; no source. */
const APART_C = 40
/** A cell's reading beyond it is in millivolts. */
const MILLIVOLTS_FROM = 1000
/** A cell's voltage, any lithium chemistry; common practice, no source. */
const CELL_LOW_V = 2
/** See above. */
const CELL_HIGH_V = 4.5

interface Group {
  readonly key: string
  readonly members: Column[]
}

/** All families among the columns; a column is in at most one. */
export function findFamilies(columns: readonly Column[], context: ReadonlySet<string>): Family[] {
  const byTemplate = new Map<string, Group>()
  for (const column of columns) {
    if (column.name.numbers.length === 0) continue
    const key = `${column.name.template}|${quantityOf(column.series.unit ?? '')}`
    const group = byTemplate.get(key)
    if (group) group.members.push(column)
    else byTemplate.set(key, { key, members: [column] })
  }
  const judged = [...byTemplate.values()].flatMap((group) => judge(group, context))
  const families: Family[] = []
  for (const id of new Set(judged.map((each) => each.id))) {
    const all = judged.filter((each) => each.id === id)
    const best = Math.max(...all.map((each) => each.sureness))
    const together = all.filter((each) => each.sureness > 0.8 * best)
    families.push(...numbered(id, partsOfOne(together), columns))
  }
  const wheels = cornerFamily(columns, context)
  if (wheels && !families.some((family) => family.id === 'wheel_speed')) families.push(wheels)
  return families
}

interface Judged {
  readonly id: string
  readonly group: Group
  readonly sureness: number
  readonly told: readonly string[]
  readonly byValues: boolean
}

/** The best rule for one group; many columns alike may be told by their values alone. */
function judge(group: Group, context: ReadonlySet<string>): Judged[] {
  const first = group.members[0]!
  const size = group.members.length
  let best: Judged | null = null
  for (const rule of FAMILY_RULES) {
    const fit = matchWords(first.name.words, context, quantityOf(first.series.unit ?? ''), rule)
    if (!fit) continue
    const good = group.members.map((each) => valuesFit(rule.id, each.series.unit, each.values))
    const mean = good.reduce((sum, each) => sum + each, 0) / size
    let sureness = fit.score * mean
    // Loose words ("voltage 7", "temperature 3") tell only where many columns read alike.
    if (rule.sure < SURE_RULE && !alike(group.members, rule.id)) sureness *= 0.3
    if (size === 1 && rule.id !== 'module_temperature' && rule.id !== 'cell_voltage') sureness *= 0.7
    if (!best || sureness > best.sureness)
      best = { id: rule.id, group, sureness, told: fit.told, byValues: rule.sure < SURE_RULE }
  }
  if (
    (!best || best.sureness < SURE) &&
    size >= FEWEST_CELLS &&
    nameless(first.name.words) &&
    cellsByValues(group.members)
  )
    best = { id: 'cell_voltage', group, sureness: 0.75, told: [], byValues: true }
  if ((!best || best.sureness < SURE) && size >= FEWEST_SENSORS && sensorsByValues(group.members))
    best = { id: 'module_temperature', group, sureness: 0.65, told: [], byValues: true }
  return best && best.sureness >= SURE ? [best] : []
}

/** `Tm01` … `Tm10`: three or more that begin with T and read believable temperatures, alike. */
function sensorsByValues(members: readonly Column[]): boolean {
  const word = members[0]!.name.words.at(-1) ?? ''
  const other = VOCABULARY.meanings.has(word) || VOCABULARY.foreign.has(word)
  // `Tc01` … is a cell's sensor, though TC alone is traction control.
  if (!/^t[a-z]{1,2}$/.test(word) || (other && word !== 'tc')) return false
  const fits = members.every((each) => {
    const { low, high } = each.values.spread
    return (
      valuesFit('module_temperature', each.series.unit, each.values) === 1 &&
      low > COLDEST_C &&
      high < HOTTEST_C
    )
  })
  return fits && alike(members, 'module_temperature')
}

/** Do at least three columns lie close together, as cells or sensors of one pack do? */
function alike(members: readonly Column[], id: string): boolean {
  if (members.length < FEWEST_PEERS) return false
  const middles = members
    .map((each) => each.values.spread.middle)
    .filter((middle) => !Number.isNaN(middle))
    .sort((a, b) => a - b)
  if (middles.length < FEWEST_PEERS) return false
  const low = middles[Math.floor(middles.length * 0.1)]!
  const high = middles[Math.ceil(middles.length * 0.9) - 1]!
  return id === 'cell_voltage' ? high - low < 0.15 * high : high - low < APART_C
}

/** No word says what it is: letters, channel words, unknown ones. */
function nameless(words: readonly string[]): boolean {
  return words.every((word) => {
    if (VOCABULARY.foreign.has(word)) return false
    const meanings = VOCABULARY.meanings.get(word)
    return word.length <= 1 || !meanings || meanings.some((each) => each === 'voltage' || each === 'track')
  })
}

/** Nameless columns (`V1` … `V84`, `ch01` …): six or more that read 2 to 4.5 V, alike. */
function cellsByValues(members: readonly Column[]): boolean {
  const cellLike = members.filter((each) => {
    const scale = each.values.spread.middle > MILLIVOLTS_FROM ? 1e-3 : 1
    const middle = each.values.spread.middle * scale
    return middle > CELL_LOW_V && middle < CELL_HIGH_V && !each.values.text
  })
  return cellLike.length >= 0.9 * members.length && alike(members, 'cell_voltage')
}

/**
 * Groups that are parts of one family: their templates differ in one letter or word of a box (`A_cell#`, `B_cell#`).
 * Others with the same meaning (filtered copies) stay out: the surest and largest stays.
 */
function partsOfOne(all: readonly Judged[]): Judged[] {
  const sorted = [...all].sort(
    (a, b) => b.group.members.length - a.group.members.length || b.sureness - a.sureness,
  )
  const [lead] = sorted
  if (!lead) return []
  return [
    lead,
    ...sorted
      .slice(1)
      .filter((each) =>
        differInPlace(lead.group.members[0]!.name.template, each.group.members[0]!.name.template),
      ),
  ]
}

const PLACE =
  /^(#?[a-h]?|front|rear|left|right|top|bottom|upper|lower|vorn|hinten|boot|engine|tunnel|tail|nose)$/

const placeParts = (template: string): string[] =>
  template.split(/[\s_.\-[\]()]+|(?=#)|(?<=#)/).filter((part) => part !== '')

function differInPlace(a: string, b: string): boolean {
  const [left, right] = [placeParts(a), placeParts(b)]
  if (left.length !== right.length) {
    const [short, long] = left.length < right.length ? [left, right] : [right, left]
    const extra = long.filter((part) => !short.includes(part))
    return extra.length === 1 && PLACE.test(extra[0]!)
  }
  const differing = left.flatMap((part, at) => (part === right[at] ? [] : [[part, right[at]!] as const]))
  return differing.length === 1 && samePlaceKind(...differing[0]!)
}

function samePlaceKind(a: string, b: string): boolean {
  if (PLACE.test(a) && PLACE.test(b)) return true
  // `boxa`, `boxb`: one letter at the end.
  return (
    a.length > 1 &&
    a.length === b.length &&
    a.slice(0, -1) === b.slice(0, -1) &&
    /[a-h]$/.test(a) &&
    /[a-h]$/.test(b)
  )
}

/** Boxes with a letter go by it, wherever their columns stand; 0 where no letter tells. */
function byLetter(a: Column, b: Column): number {
  const [left, right] = [placeParts(a.name.template), placeParts(b.name.template)]
  const differing = left.flatMap((part, at) => (part === right[at] ? [] : [[part, right[at] ?? ''] as const]))
  const [one, other] = differing.length === 1 ? differing[0]! : ['', '']
  return /^[a-h]$/.test(one.slice(-1)) && /^[a-h]$/.test(other.slice(-1)) && one.length === other.length
    ? one.charCodeAt(one.length - 1) - other.charCodeAt(other.length - 1)
    : 0
}

/** Gives the members their channel numbers. */
function numbered(id: string, parts: readonly Judged[], columns: readonly Column[]): Family[] {
  if (parts.length === 0) return []
  const order = new Map(columns.map((column, at) => [column, at]))
  const first = (part: Judged): Column => part.group.members[0]!
  const inOrder = [...parts].sort(
    (a, b) => byLetter(first(a), first(b)) || order.get(first(a))! - order.get(first(b))!,
  )
  const members: Column[] = []
  const numbers: number[] = []
  let offset = 0
  let how = ''
  for (const part of inOrder) {
    const given = channelNumbers(part.group.members)
    how = given.how
    part.group.members.forEach((member, at) => {
      members.push(member)
      numbers.push(given.numbers[at]! + offset)
    })
    offset = Math.max(offset, ...numbers)
  }
  const sureness = Math.min(
    0.99,
    Math.min(...parts.map((part) => part.sureness)) + 0.01 * Math.min(4, members.length),
  )
  const { told, byValues } = parts[0]!
  const named = told.length > 0 ? wordsTell(told) : 'its values alone name it'
  const alikeWords =
    members.length > 2 ? `${members.length} columns are named and read alike` : `${members.length} of a kind`
  const boxes = parts.length > 1 ? `; numbered on through ${parts.length} boxes` : how
  return [
    { id, members, numbers, sureness, why: `${named}${byValues ? ', weakly' : ''}; ${alikeWords}${boxes}` },
  ]
}

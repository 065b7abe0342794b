import { catalogueEntry } from '../../shared/channels.ts'
import type { RawSeries } from '../../shared/raw-log.ts'
import { quantityOf } from '../../shared/units.ts'
import { bestAssignment } from '../math/assignment.ts'
import { NAME_RULES } from './channel-names.ts'
import type { Column } from './column.ts'
import { type ColumnValues, columnValues, valuesFit } from './column-values.ts'
import { findFamilies } from './families.ts'
import { matchWords, wordsTell } from './match-words.ts'
import { nameWords } from './name-words.ts'
import { LEAST_SURE, type Pick } from './pick.ts'
import { relate } from './relations.ts'
import { VOCABULARY } from './vocabulary.ts'

/** In fewer columns a shared word may be the meaning; no source. */
const FEWEST_COLUMNS = 8
/** A little below what is believed. */
const NEAREST = 0.25
/** Values fit, but for a rounding. */
const ALL_FIT = 0.99
/** No travel in percent, stretched or not. */
const MOST_PERCENT = 200

/** A series and the channel it was understood as. */
export interface Named {
  readonly series: RawSeries
  /** Catalogue id, or the series' own name. */
  readonly id: string
  /** 0 … 1; 0 where it keeps its own name. */
  readonly sureness: number
  readonly why: string
}

const RULES_OF = new Map<string, (typeof NAME_RULES)[number][]>()
for (const rule of NAME_RULES) RULES_OF.set(rule.id, [...(RULES_OF.get(rule.id) ?? []), rule])
const SINGLES = [...RULES_OF.keys()]

/**
 * Names all columns of one log at once: numbered families first (cells, sensors), then the best assignment of the
 * other columns to the other channels, by words, units and values; then what the columns say about each other.
 * A channel fixed by a signal table, a map or a remembered correction stands.
 */
export function nameSeries(all: readonly RawSeries[]): Named[] {
  const context = sharedWords(all)
  const free: Column[] = []
  const taken = new Set<string>()
  const picks = new Map<RawSeries, Pick>()
  for (const series of all) {
    if (series.channel !== null) {
      picks.set(series, {
        id: series.channel,
        sureness: catalogueEntry(series.channel) ? 1 : 0,
        why: fixedWhy(series),
      })
      taken.add(series.channel)
    } else if (series.timeS.length > 0)
      free.push({ series, name: nameWords(series.name, series.unit), values: columnValues(series) })
  }
  for (const family of findFamilies(free, context))
    family.members.forEach((member, at) => {
      const id = `${family.id}.${family.numbers[at]}`
      // A number beyond any pack is no cell's: the column keeps its own name.
      if (taken.has(id) || !catalogueEntry(id)) return
      taken.add(id)
      picks.set(member.series, { id, sureness: family.sureness, why: family.why })
    })
  const rest = free.filter((column) => !picks.has(column.series) && !isSecond(column, all))
  for (const [column, pick] of assignSingles(rest, context, taken)) picks.set(column.series, pick)
  relate(picks, free)
  return all.map((series) => {
    const pick = picks.get(series)
    if (!pick || (pick.sureness < LEAST_SURE && series.channel === null))
      return { series, id: series.name, sureness: 0, why: whyNot(series, pick) }
    return { series, ...pick }
  })
}

/** A second column of the same name (`Throttle [%] (2)`, as the importers call it): its number tells nothing. */
function isSecond({ series }: Column, all: readonly RawSeries[]): boolean {
  const base = /^(.+) \(\d+\)$/.exec(series.name)?.[1]
  return base !== undefined && all.some(({ name, timeS }) => name === base && timeS.length > 0)
}

function fixedWhy(series: RawSeries): string {
  const { fixedBy = 'table' } = series
  if (fixedBy === 'map') return 'named by the map'
  if (fixedBy === 'remembered') return 'named by a correction kept for this layout'
  return 'named by the signal table'
}

function whyNot(series: RawSeries, pick: Pick | undefined): string {
  if (series.timeS.length === 0) return 'it holds no values'
  if (pick)
    return `${pick.id} was the nearest, but not sure enough (${pick.sureness.toFixed(2)}): ${pick.why}`
  return 'no channel of ours fits its words, unit and values; kept under its own name'
}

/** Words that four fifths of the names carry: a prefix that tells them not apart. */
function sharedWords(all: readonly RawSeries[]): ReadonlySet<string> {
  if (all.length < FEWEST_COLUMNS) return new Set()
  const counts = new Map<string, number>()
  for (const series of all)
    for (const word of new Set(nameWords(series.name, series.unit).words))
      counts.set(word, (counts.get(word) ?? 0) + 1)
  return new Set([...counts].filter(([, count]) => count >= 0.8 * all.length).map(([word]) => word))
}

/** The best assignment of columns to channels that are no family. */
function assignSingles(
  columns: readonly Column[],
  context: ReadonlySet<string>,
  taken: ReadonlySet<string>,
): [Column, Pick][] {
  const ids = SINGLES.filter((id) => !taken.has(id))
  const whys = new Map<string, string>()
  const fromZero = new Set(
    columns.filter(({ name }) => name.numbers.at(-1) === 0).map(({ name }) => name.template),
  )
  const scores = columns.map((column, row) =>
    ids.map((id, at) => {
      const found = scoreSingle(column, id, context, fromZero)
      if (found) whys.set(`${row}|${at}`, found.why)
      // A little below the threshold still counts, so that `whyNot` can tell what was nearest.
      return found && found.score > NEAREST ? found.score : 0
    }),
  )
  // Squared: one sure name is worth more than two doubtful ones.
  const chosen = bestAssignment(scores.map((row) => row.map((score) => score * score)))
  return columns.flatMap((column, row) => {
    const at = chosen[row]!
    return at < 0
      ? []
      : [
          [
            column,
            { id: ids[at]!, sureness: Math.min(0.99, scores[row]![at]!), why: whys.get(`${row}|${at}`)! },
          ] as [Column, Pick],
        ]
  })
}

function scoreSingle(
  column: Column,
  id: string,
  context: ReadonlySet<string>,
  fromZero: ReadonlySet<string>,
): { score: number; why: string } | null {
  const { series, name, values } = column
  let best: { score: number; told: readonly string[] } | null = null
  for (const rule of RULES_OF.get(id) ?? []) {
    const fit = matchWords(name.words, context, quantityOf(series.unit ?? ''), rule)
    if (!fit) continue
    let { score } = fit
    if (rule.number !== null) {
      const number = trackNumber(column, fromZero.has(name.template))
      if (number === null) score *= rule.number === 1 ? 0.62 : 0.3
      else if (number !== rule.number) score *= 0.05
    } else if (name.numbers.length > 0)
      score *= name.numbers[0] === 1 ? 0.9 : name.numbers[0] === 0 ? 0.88 : 0.7
    score *= leaning(id, column)
    if (!best || score > best.score) best = { score, told: fit.told }
  }
  if (!best) return null
  // few names fit a channel: the values are asked last
  const fits = valuesFit(id, series.unit, values)
  if (fits === 0) return null
  const told = best.told.length > 0 ? wordsTell(best.told) : 'its unit names it'
  const said =
    fits >= ALL_FIT
      ? Number.isNaN(values.spread.middle)
        ? ''
        : '; unit and values fit'
      : '; its values fit badly'
  return { score: best.score * fits, why: `${told}${said}` }
}

/** `apps1`, `track B`, `pedal sub`, `tps_redundant` → 1 or 2. */
function trackNumber({ series, name }: Column, fromZero: boolean): number | null {
  const number = name.numbers.at(-1)
  if (number !== undefined && number <= 2) return fromZero ? number + 1 : Math.max(1, number)
  const text = series.name.toLowerCase().replace(/[[(].*$/, '')
  if (
    /(^|[\s_.-])(b|sub|secondary|redundant|second|slave|2nd|backup)([\s_.-]|$)|(apps|tps|track|pedal)b$/.test(
      text,
    )
  )
    return 2
  if (/(^|[\s_.-])(a|main|primary|first|master|1st)([\s_.-]|$)|(apps|tps|track|pedal)a$/.test(text)) return 1
  return null
}

/** What the values say between channels that share words: pedal in % or V, brake as switch, travel or pressure. */
function leaning(id: string, column: Column): number {
  const { values, series, name } = column
  const quantity = quantityOf(series.unit ?? '')
  // A step number of a state machine is no switch: precharge's 0 … 4, or 2 and 5.
  if (/^contactor_/.test(id) && wordAt(name.words, 'state') >= 0 && !readsAsSwitch(values)) return 0.1
  // Brake while throttle is a check of the pedals, no switch.
  if (/^brake_/.test(id) && wordAt(name.words, 'accelerator') >= 0) return 0.05
  if (/^(cruise|hold)_active$/.test(id) && (values.distinct > 2 || name.words.some((w) => WAITING.test(w))))
    return 0.1
  if (id === 'selector' && onlyGear(column)) return 0.1
  // 5 V throughout is a sensor's supply, never the car's 12 V system.
  if (id === 'lv_voltage' && values.low > 4.5 && values.high < 5.5) return 0.1
  if (id === 'pedal_position')
    return quantity === 'V' || values.high > MOST_PERCENT || values.text ? 0.05 : quantity === '%' ? 1 : 0.9
  if (/^pedal_track/.test(id)) return quantity === '%' ? 0.85 : 1
  // `inverter.motor.temperature` is the motor's, `motor inverter temperature` is not.
  if (id === 'motor_temperature' && wordAt(name.words, 'inverter') > wordAt(name.words, 'motor')) return 0.1
  if (id === 'brake_travel') return quantity === '%' ? 1 : 0.8
  return 1
}

/** Cruise control that is switched on but holds no speed. */
const WAITING = /^(enabled?|enabling|standby|armed|available|main|allowed)$/

const readsAsSwitch = ({ distinct, low, high, text }: ColumnValues): boolean =>
  distinct <= 2 && (text || distinct <= 1 || (low === 0 && [1, 100, 255].includes(high)))

/** `gear`, `Gang`, `GearPos` with numbers from 0 up: a gearbox's gears; with −1, letters or more words it may be the lever. */
function onlyGear({ name, values }: Column): boolean {
  const said = name.words.filter((word) => !VOCABULARY.noise.has(word))
  return (
    said.every((word) =>
      /^(gear|gang|gänge|current|actual|act|number|num|no|nr|engaged|pos|position|state|status|stat)$/.test(
        word,
      ),
    ) &&
    !values.text &&
    values.low >= 0 &&
    values.high > 1
  )
}

function wordAt(words: readonly string[], meaning: string): number {
  return words.findIndex((word) => VOCABULARY.meanings.get(word)?.includes(meaning))
}

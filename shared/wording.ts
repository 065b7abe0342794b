import { namesInWords } from './channels.ts'
import type { Reading } from './reading.ts'
import {
  type Area,
  areaSchema,
  type Finding,
  type Holder,
  type Question,
  type Review,
  type Severity,
  type Subject,
} from './review.ts'

/** What stands before anybody tries a control to see which bits move. Source: the project's safety page. */
export const TRYING_A_CONTROL: readonly string[] = [
  'Before a control is tried to see which bits move: selector in neutral, driven wheels off the ground, contactors open or the service plug out, a second person at the emergency switch.',
  'In this order: lamp, brake, key, and the pedal last, that one only with drive seen or stated off.',
]

/** A ratio is told as so many times. */
export const unitWord = (unit: string) =>
  unit === '' || unit === 'ratio' ? 'times' : unit === 'points' ? '%' : unit

/** The words that page and report share for severities, figures, times. Numbers are for people: few digits. */
export const SEVERITY_WORDS: Readonly<Record<Severity, { word: string; heading: string }>> = {
  stop: { word: 'Stop', heading: 'Speaks against handing over' },
  attention: { word: 'Attention', heading: 'Needs attention' },
  note: { word: 'Note', heading: 'Worth knowing' },
}

export const STATE_HEADINGS = {
  'nothing-found': 'Asked, and nothing found',
  'not-assessed': 'Not assessed',
} as const

/** Three significant digits, more where the integer part has more, no idle zeros: 0.0512, 3.4, 412, 18240. */
export function numberText(value: number | null, digits = 3): string {
  if (value === null || !Number.isFinite(value)) return '–'
  const size = Math.abs(value)
  if (size === 0) return '0'
  const whole = Math.floor(Math.log10(size)) + 1
  const text = value.toFixed(Math.min(6, Math.max(0, digits - whole)))
  return minus(text.includes('.') ? text.replace(/\.?0+$/, '') : text)
}

/** "47 Ω (R. Hale, 2026-11-27)". */
export const readingText = ({ value, unit, by, date }: Reading): string =>
  `${value === 'open' ? 'open' : `${numberText(value)} ${unit}`.trim()} (${by}, ${date.slice(0, 10)})`

/** What a line of the check sheet is crossed off by: the log, or a reading at the car. */
export const knownWords = (known: string): string =>
  sentence(known.startsWith('measured at the car') ? known : `the log tells: ${known}`)

/** A figure rounded as its interval allows: two significant digits of the half width. */
export function withInterval(value: number | null, plusMinus: number | null, unit: string): string {
  if (value === null) return 'no figure'
  const tail = unit === '' ? '' : unit === '%' ? ' %' : ` ${unit}`
  if (plusMinus === null || !(plusMinus > 0)) return `${numberText(value)}${tail}`
  const places = Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(plusMinus))))
  return `${minus(value.toFixed(places))} ± ${plusMinus.toFixed(places)}${tail}`
}

/** The text with its first letter large. */
export const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1)

/** An interval whose two sides differ by more than this share of it is told by its ends. */
const LOPSIDED = 0.2

/** "0.52 ± 0.06 mΩ", "at least 0.48 mΩ", or with the interval's ends where it is lopsided: "1.2 (1.2 to 1.6) s". */
export function figureText({ value, low, high, plus_minus, unit, bound }: Figure): string {
  const lopsided =
    value !== null &&
    low !== null &&
    high !== null &&
    Math.abs(high + low - 2 * value) > LOPSIDED * (high - low)
  const text = lopsided
    ? `${numberText(value)} (${numberText(low)} to ${numberText(high)}) ${unitWord(unit)}`
    : withInterval(value, plus_minus, value === 1 && unit === 'attempts' ? 'attempt' : unitWord(unit))
  if (value === null || bound === 'exact') return text
  return `${bound === 'at-least' ? 'at least' : 'at most'} ${text}`
}

type Figure = Pick<Finding, 'value' | 'low' | 'high' | 'plus_minus' | 'unit' | 'bound'>

export function limitText({ limit, unit }: Finding): string | null {
  return limit === null ? null : `${numberText(limit)} ${unitWord(unit)}`
}

/** "joint read with cell 41, between cells 40 and 41". */
export function subjectText({ type, index, name, between_cells }: Subject): string {
  const words = type.replaceAll('-', ' ')
  const between = between_cells ? `, between cells ${between_cells[0]} and ${between_cells[1]}` : ''
  if (type === 'joint' && index !== undefined) return `joint read with cell ${index}${between}`
  if (type === 'cell-pair' && index !== undefined) return `cells ${index} and ${index + 1}`
  const parts = [words, index === undefined ? '' : String(index), name ?? ''].filter(Boolean)
  return parts.join(' ') + between
}

/** "2.58 A" for a question that found nothing: the smallest fault that would have shown; how often where not 9 in 10. */
export function smallestFigure({ smallest_seen, unit, chance }: Question): string | null {
  if (smallest_seen === null) return null
  const usual = chance === null || Math.abs(chance - 0.9) < 0.005
  return `${numberText(smallest_seen)} ${unitWord(unit)}${usual ? '' : `, ${chanceText(chance)}`}`
}

/**
 * What stands beside a question that found nothing: what was read, the limit, and the smallest fault that would have
 * shown, each with its words; null where the log gives no figure.
 */
export function shownText(question: Question): string | null {
  const figure = smallestFigure(question)
  if (figure === null) return null
  const unit = unitWord(question.unit)
  const [size, chance] = figure.split(', ')
  return [
    ...(question.measured == null ? [] : [`read: ${numberText(question.measured)} ${unit}`]),
    ...(question.limit == null ? [] : [`limit: ${numberText(question.limit)} ${unit}`]),
    `${size} would have shown${chance ? ` ${chance}` : ''}`,
  ].join('; ')
}

/** Decimals for a column of figures: three digits of its largest, so that points stand under points. */
export function placesOf(values: readonly (number | null)[], digits = 3): number {
  let most = 0
  for (const value of values)
    if (value !== null && Number.isFinite(value)) most = Math.max(most, Math.abs(value))
  if (most === 0) return 0
  return Math.min(6, Math.max(0, digits - 1 - Math.floor(Math.log10(most))))
}

/** A figure with so many decimals, whatever they are. */
export function fixedText(value: number | null, places: number): string {
  return value === null || !Number.isFinite(value) ? '–' : minus(value.toFixed(places))
}

/** The steps of the start chain in the workshop's words. */
const STEP_WORDS: Readonly<Record<string, string>> = {
  supply: '12 V supply',
  key: 'Key on',
  plug: 'Charge plug out',
  interlock: 'Interlock loop',
  inertia: 'Inertia switch',
  battery: 'Battery unit',
  isolation: 'Isolation',
  negative: 'Negative contactor',
  precharge: 'Precharge',
  positive: 'Positive contactor',
  inverter: 'Inverter',
  brake: 'Brake pressed',
  selector: 'Selector in neutral',
  pedal: 'Accelerator released',
  ready: 'Drive ready',
  torque: 'Torque',
}

/** Name of a step; one that a vehicle file adds keeps its own. */
export const stepWord = (name: string) => STEP_WORDS[name] ?? sentence(name).replace(/\.$/, '')

/** The steps of the charge chain; those that it shares with a start are called alike. */
const CHARGE_STEP_WORDS: Readonly<Record<string, string>> = {
  plug: 'Charge plug in',
  proximity: 'Cable recognised',
  'drive-inhibit': 'Drive held off',
  pilot: 'Station sees the car',
  duty: 'Station offers current',
  lock: 'Plug locked',
  contactors: 'Contactors closed',
  request: 'Current asked for',
  state: 'Station asked to close',
  mains: 'Mains at the charger',
  current: 'Charge current',
}

/** Who kept a charge's current where it was, as it goes on a sentence. */
const HOLDER_WORDS: Readonly<Record<Holder, string>> = {
  'as-asked': 'as asked',
  charger: 'the charger',
  cable: 'the cable’s rating',
  pilot: 'the station’s offer',
  voltage: 'the voltage asked for',
  'highest-cell': 'the highest cell',
  warmest: 'the warmest sensor',
  coldest: 'the coldest sensor',
  'battery-unit': 'the battery unit’s request',
  pause: 'a pause',
  'not-told': 'not told by this log',
}
export const holderWord = (by: Holder) => HOLDER_WORDS[by]

/** Name of a step of a charge. */
export const chargeStepWord = (name: string) => CHARGE_STEP_WORDS[name] ?? stepWord(name)

/** How a cell is classed: a cell that shows nothing is like its peers, not proved healthy. */
export const classWord = (word: string) => (word === 'healthy' ? 'like its peers' : word.replaceAll('-', ' '))

/** A caution by its name: its first words, up to where it says how. */
export const cautionName = (caution: string): string =>
  /^[^;:.]+?(?= with the | before | that was found |[;:.]|$)/.exec(caution)?.[0] ?? caution

/** A sentence's beginning as it goes on inside one; names and abbreviations keep their capitals. */
export const lowerFirst = (text: string): string =>
  text.replace(/^[A-Z](?=[a-z]+\b)/, (capital) => capital.toLowerCase())

/** A caution in full the first time, by its first clause after that: said wherever it holds, read once. */
export function onceInFull(caution: string, said: Set<string>): string {
  const first = /^[^;:.]+/.exec(caution)?.[0] ?? caution
  if (said.has(caution) && first.length + 20 < caution.length) return `${first} (in full above).`
  said.add(caution)
  return caution
}

/** A step's name inside a sentence. */
export const stepInSentence = (name: string) => lowerFirst(stepWord(name))

/** The steps of an attempt to start, by what became of them: "FAILED: precharge. Held: 12 V supply, key on." */
export function stepsText(
  steps: readonly { readonly name: string; readonly held: boolean | null }[],
  wordOf: (name: string) => string = stepWord,
): string {
  const named = (held: boolean | null, word: string) => {
    const names = steps.filter((step) => step.held === held).map((step) => lowerFirst(wordOf(step.name)))
    return names.length === 0 ? [] : [`${word}: ${names.join(', ')}.`]
  }
  return [...named(false, 'FAILED'), ...named(true, 'Held'), ...named(null, 'Not seen')].join(' ')
}

/** The first sentence of a longer text. */
export function firstSentence(text: string): string {
  return /^.*?[.!?](?=\s+[A-Z]|$)/s.exec(text.trim())?.[0] ?? text
}

function chanceText(chance: number): string {
  const inTen = Math.round(chance * 10)
  if (Math.abs(chance * 10 - inTen) < 0.05 && inTen < 10) return `${inTen} times in 10`
  const inHundred = Math.round(chance * 100)
  return inHundred >= 100 ? 'every time' : `${inHundred} times in 100`
}

/** When a drive began: date, minute and zone, as far as the log says; null where it does not. */
export function startedText(startedAt: string | null): string | null {
  const parts =
    startedAt === null ? null : /^(\d{4}-\d\d-\d\d)T(\d\d:\d\d)[^Z+-]*(Z|[+-]\d\d:\d\d)?$/.exec(startedAt)
  if (!parts) return startedAt
  const [, day, minute, zone] = parts
  return `${day} ${minute}${zone === undefined ? '' : zone === 'Z' ? ' UTC' : ` UTC${zone}`}`
}

/** Seconds of a drive as a clock: 0:07.2, 12:34, 1:02:03. Tenths only where `fine`. */
export function clockText(atS: number | null, fine = false): string {
  if (atS === null || !Number.isFinite(atS)) return '–'
  const sign = atS < 0 ? '−' : ''
  const total = fine ? Math.round(Math.abs(atS) * 10) / 10 : Math.round(Math.abs(atS))
  const hours = Math.floor(total / 3600)
  const minutes = Math.floor((total % 3600) / 60)
  const seconds = total % 60
  const two = (value: number) => String(value).padStart(2, '0')
  const secondsText = fine ? seconds.toFixed(1).padStart(4, '0') : two(Math.floor(seconds))
  return hours > 0 ? `${sign}${hours}:${two(minutes)}:${secondsText}` : `${sign}${minutes}:${secondsText}`
}

/** When a finding shows: a stretch of the drive, or all of it. */
export function whenText([from, to]: readonly [number, number], driveS: number): string {
  if (to - from > 0.95 * driveS) return 'over the whole drive'
  return `${clockText(from, true)} to ${clockText(to, true)}`
}

/** A length of time in words: 0.12 s, 48 s, 12 min, 1 h 5 min. */
export function lengthText(seconds: number): string {
  if (seconds < 10) return `${numberText(seconds, 2)} s`
  if (seconds < 120) return `${Math.round(seconds)} s`
  if (seconds < 3600) return `${Math.round(seconds / 60)} min`
  const minutes = Math.round(seconds / 60)
  return `${Math.floor(minutes / 60)} h ${minutes % 60} min`
}

/** "4.46 km", "did not move"; null where the log cannot tell. */
export function distanceText(km: number | null): string | null {
  if (km === null) return null
  return km === 0 ? 'did not move' : `${numberText(km)} km`
}

/** Text as a sentence: a capital first (file names and channel ids stay as they are), a full stop last. */
export function sentence(text: string): string {
  const plain = text.trim()
  if (plain === '') return ''
  const begun = /^([a-z]+_|\S+\.\w+)/.test(plain) ? plain : capital(plain)
  return /[.!?:]$/.test(begun) ? begun : `${begun}.`
}

/** A headline as it goes on a sentence: without its full stop. */
export const plainClause = (text: string): string => text.trim().replace(/[.;:\s]+$/, '')

/** A car that moved this far was able to drive, whatever its start was, km. */
const DROVE_KM = 0.05

/**
 * Start, pedal or pack where nothing at all was assessed: with these unseen nothing can be concluded. The start is unseen
 * in the log of a parked or charging car too, whose switches were watched and which nobody started.
 */
export function unseenAreas({ questions, starts, drive }: Seen): Area[] {
  const started = starts.length > 0 || (drive.distance_km ?? 0) > DROVE_KM
  return (['start', 'pedal', 'pack'] as const).filter(
    (area) =>
      (area === 'start' && !started) ||
      questions.every((question) => question.area !== area || question.state === 'not-assessed'),
  )
}

type Seen = { readonly questions: readonly Question[] } & Pick<Review, 'starts'> & {
    readonly drive: Pick<Review['drive'], 'distance_km'>
  }

/** True where only driving would answer: all channels are there, or the advice is to drive. */
export const needsDrive = ({ state, rung, missing, area }: Question): boolean =>
  state === 'not-assessed' &&
  ((rung ?? 'standing') !== 'standing' || (missing.length === 0 && area !== 'log' && area !== 'start'))

/** The one channel that most open questions lack, in words; null where none lacks any. */
export function mostWorthLogging(open: readonly Question[]): { what: string; questions: number } | null {
  const lacking = new Map<string, number>()
  for (const { missing } of open)
    for (const id of new Set(missing)) lacking.set(id, (lacking.get(id) ?? 0) + 1)
  const [most] = [...lacking].sort((a, b) => b[1] - a[1] || a[0].localeCompare(b[0], 'en'))
  return most ? { what: namesInWords(most[0]), questions: most[1] } : null
}

/** What could not be told, in one line: how much, how much of it needs a drive, and what to log for most of it. */
export function openLine({ questions }: { readonly questions: readonly Question[] }): string {
  const open = questions.filter(({ state }) => state === 'not-assessed')
  if (open.length === 0) return 'Every question was assessed.'
  const drive = open.filter(needsDrive).length
  const worth = mostWorthLogging(open)
  return [
    `Not assessed: ${open.length} ${open.length === 1 ? 'question' : 'questions'}`,
    drive > 0 ? `, ${drive} of them ${drive === 1 ? 'needs' : 'need'} a drive` : '',
    worth === null
      ? '.'
      : worth.questions === 1
        ? `. Logging ${worth.what} would close one of them.`
        : `. Logging ${worth.what} would help most: ${worth.questions} of them lack it.`,
  ].join('')
}

/** More of a table's rows left out than this is said beside the verdict. Ours: a twentieth of a drive hides a fault. */
const MOST_LEFT_OUT = 0.05

/** Logs that were read in part only, a sentence each: what a person must know who reads that nothing was found. */
export function partlyRead({ files }: Pick<Review['drive'], 'files'>): string[] {
  return files.flatMap(({ name, rows, skipped }) =>
    skipped.flatMap(({ what, count, first }) => {
      const rest = /^(?:the )?rest of the (?:file|capture)(?:: (.*))?$/s.exec(what)
      if (rest) return [`${name} was read in part: ${rest[1] ? `${rest[1]} (${first})` : first}.`]
      const many = /^(?:rows|lines) /.test(what) && count > MOST_LEFT_OUT * (rows + count)
      return many ? [`${name} was read in part: ${count} ${what} left out (first: ${first}).`] : []
    }),
  )
}

/** Questions by area, in the areas' own order; areas without any are left out. */
export function byArea(questions: readonly Question[]): [Area, Question[]][] {
  return areaSchema.options
    .map((area): [Area, Question[]] => [area, questions.filter((each) => each.area === area)])
    .filter(([, asked]) => asked.length > 0)
}

const minus = (text: string) => text.replace(/^-(?=0\.?0*$)/, '').replace('-', '−')

/** How the lift-off part and the brake part of regeneration join. */
export const FORM_WORDS: Readonly<Record<NonNullable<NonNullable<Review['regen']>['form']>, string>> = {
  sum: 'the brake adds to lift-off',
  larger: 'the larger of lift-off and brake counts',
  replaces: 'the brake takes the place of lift-off',
}

import type { NameRule } from './channel-names.ts'
import { VOCABULARY } from './vocabulary.ts'

/** How well a name fits a rule. */
export interface WordFit {
  /** 0 … 1 */
  readonly score: number
  /** The words that told. */
  readonly told: readonly string[]
  /** A needed meaning was taken from the unit alone. */
  readonly fromUnit: boolean
}

/** What a unit says about the quantity, in the vocabulary's meanings. */
const QUANTITY: Readonly<Record<string, readonly string[]>> = {
  V: ['voltage'],
  A: ['current'],
  '°C': ['temperature'],
  bar: ['pressure'],
  N·m: ['torque'],
  'km/h': ['speed'],
  rpm: ['rpm'],
  kΩ: ['resistance'],
  mΩ: ['resistance'],
  W: ['power'],
  'm/s²': ['acceleration'],
  'l/min': ['flow'],
  Ω: ['resistance'],
  '%': ['travel'],
}

const UNKNOWN_COST = 0.85
const AGAINST = 0.1
const FROM_UNIT = 0.95

/**
 * Fits the words of a name to a rule: each need takes one word, what is left must be allowed, noise, or costs.
 * @param context words that most names of the log share (`bms.…`): they may tell, and cost nothing
 * @param quantity program unit that the column's unit stands for; '' where unknown
 */
export function matchWords(
  words: readonly string[],
  context: ReadonlySet<string>,
  quantity: string,
  rule: NameRule,
): WordFit | null {
  const implied = QUANTITY[quantity] ?? []
  const used = new Array<boolean>(words.length).fill(false)
  let best: WordFit | null = null
  const take = (at: number, fromUnit: boolean): void => {
    if (at === rule.need.length) {
      const fit = rest(fromUnit)
      if (!best || fit.score > best.score) best = fit
      return
    }
    const need = rule.need[at]!
    for (let w = 0; w < words.length; w++) {
      if (used[w] || !means(words[w]!, need)) continue
      used[w] = true
      take(at + 1, fromUnit)
      used[w] = false
    }
    if (need.some((each) => implied.includes(each))) take(at + 1, true)
  }
  const rest = (fromUnit: boolean): WordFit => {
    let score = rule.sure * (fromUnit ? FROM_UNIT : 1)
    const told: string[] = []
    for (let w = 0; w < words.length; w++) {
      const word = words[w]!
      if (used[w]) {
        told.push(word)
        continue
      }
      if (context.has(word) || allowed(word, rule.may) || VOCABULARY.noise.has(word)) continue
      // A need said twice: "fault flags", "coolant water".
      if (rule.need.some((need) => means(word, need))) continue
      // The quantity said in words and by the unit is said once.
      if (means(word, implied)) continue
      if (VOCABULARY.foreign.has(word) || VOCABULARY.meanings.has(word)) score *= AGAINST
      else score *= word.length <= 2 ? 0.93 : UNKNOWN_COST
    }
    return { score, told, fromUnit }
  }
  take(0, false)
  return best
}

/** A word means what the vocabulary says; one that it does not know means itself, so that a rule may name it. */
function means(word: string, meanings: readonly string[]): boolean {
  const known = VOCABULARY.meanings.get(word)
  return known ? known.some((each) => meanings.includes(each)) : meanings.includes(word)
}

function allowed(word: string, may: ReadonlySet<string>): boolean {
  return may.has(word) || (VOCABULARY.meanings.get(word)?.some((each) => may.has(each)) ?? false)
}

/** `its words "pack", "voltage" name it`. */
export function wordsTell(words: readonly string[]): string {
  const quoted = words.map((word) => `"${word}"`).join(', ')
  return words.length === 1 ? `its word ${quoted} names it` : `its words ${quoted} name it`
}

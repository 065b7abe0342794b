/** What a review made of one drive with one fault. */
export interface Outcome {
  /** The fault is at least 1.5 times the smallest that the review says it would have shown. */
  readonly visible: boolean
  readonly smallest: number | null
  readonly size: number
  /** Kind of the worst finding at the place. */
  readonly lead: string | null
  readonly loud: boolean
  readonly right: boolean
  /** The true cause is that of a finding there, or a rival of one. */
  readonly named: boolean
  /** How many times better the leading cause explains the log than its nearest rival. */
  readonly odds: number | null
  /** The interval holds the truth; null: no such finding. */
  readonly held: boolean | null
  readonly said: readonly string[]
  readonly others: readonly string[]
}

const share = (part: number, whole: number): string =>
  whole === 0 ? '   –' : `${part} of ${whole} (${Math.round((100 * part) / whole)} %)`

/** Counts outcomes by model and cause, and the odds by decade. */
export class CauseTally {
  private readonly all: { readonly model: string; readonly cause: string; readonly outcome: Outcome }[] = []

  add(model: string, cause: string, outcome: Outcome): void {
    this.all.push({ model, cause, outcome })
  }

  get size(): number {
    return this.all.length
  }

  rows(): string[] {
    const rows = [
      '',
      'model   cause      visible | right first, above note | right where 10 : 1 | named | interval held',
    ]
    const groups = new Map<string, Outcome[]>()
    for (const { model, cause, outcome } of this.all)
      for (const key of [`${model.padEnd(7)} ${cause.padEnd(9)}`, `${model.padEnd(7)} all      `])
        groups.set(key, [...(groups.get(key) ?? []), outcome])
    for (const [key, outcomes] of [...groups].sort(([a], [b]) => a.localeCompare(b))) {
      const seen = outcomes.filter((each) => each.visible)
      const sure = seen.filter((each) => (each.odds ?? 0) >= 10)
      const held = outcomes.filter((each) => each.held !== null)
      const count = (list: readonly Outcome[], of: (each: Outcome) => boolean): string =>
        share(list.filter(of).length, list.length)
      rows.push(
        `${key}  ${count(outcomes, (each) => each.visible)} | ${count(seen, (each) => each.right && each.loud)} | ` +
          `${count(sure, (each) => each.right)} | ${count(seen, (each) => each.named)} | ` +
          `${count(held, (each) => each.held === true)}`,
      )
    }
    rows.push('', 'odds of the leading cause over its nearest rival, and how often it was right')
    for (const model of [...new Set(this.all.map((each) => each.model))])
      for (const [name, low, high] of DECADES) {
        const own = this.all.filter(
          ({ model: of, outcome }) =>
            of === model && outcome.odds !== null && outcome.odds >= low && outcome.odds < high,
        )
        if (own.length > 0)
          rows.push(
            `${model.padEnd(7)} ${name}  ${share(own.filter((each) => each.outcome.right).length, own.length)}`,
          )
      }
    const others = this.all.filter(({ outcome }) => outcome.others.length > 0).length
    rows.push(`drives with something else above note: ${share(others, this.all.length)}`)
    return rows
  }
}

const DECADES: readonly (readonly [string, number, number])[] = [
  ['under 3      ', 0, 3],
  ['3 to 10      ', 3, 10],
  ['10 to 100    ', 10, 100],
  ['100 to 1000  ', 100, 1000],
  ['over 1000    ', 1000, Number.POSITIVE_INFINITY],
]

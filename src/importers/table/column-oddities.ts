import type { Skipped } from '../../../shared/drive.ts'
import type { Field } from './field-text.ts'

/** As much of a field as a message shows. */
const SHOWN_CHARACTERS = 40

/** More different texts than this in one column are remarks, not states. */
const MOST_LABELS = 1000

/** Something noted in the current row, to be taken back with it. */
type Noted = { readonly label: string } | { readonly what: string } | { readonly text: true }

/** What fields other than plain numbers one column held: its texts by sample, everything else counted. */
export class ColumnOddities {
  /** Sample and label of each text; label −1 past `MOST_LABELS`. */
  readonly textAt: number[] = []
  readonly textId: number[] = []
  readonly labels = new Map<string, number>()
  /** Unit written beside the values (`3.998 V`); null where none was. */
  unit: string | null = null
  private readonly counts = new Map<string, { count: number; line: number; example: string }>()
  private readonly noted: Noted[] = []

  /** @param at the sample's number in its column */
  note(at: number, field: Field, line: number, written: string): void {
    if (field.kind === 'text') this.noteText(at, field.text, line)
    else if (field.kind === 'damaged') this.tell(field.how, line, written)
    else if (field.kind === 'missing') this.tell('fields that say "no value"', line, written)
    else if (field.kind === 'number') {
      if (field.unit) this.unit ??= field.unit
      if (field.thousands) this.tell('thousands marks taken out', line, written)
      if (field.bound) this.tell('bounds (>, <) taken as the value', line, written)
    }
  }

  private noteText(at: number, text: string, line: number): void {
    let id = this.labels.get(text)
    if (id === undefined && this.labels.size < MOST_LABELS) {
      id = this.labels.size
      this.labels.set(text, id)
      this.noted.push({ label: text })
    }
    this.textAt.push(at)
    this.textId.push(id ?? -1)
    this.noted.push({ text: true })
    this.tell('text', line, text)
  }

  private tell(what: string, line: number, example: string): void {
    const seen = this.counts.get(what)
    if (seen) seen.count++
    else this.counts.set(what, { count: 1, line, example })
    this.noted.push({ what })
  }

  keepRow(): void {
    this.noted.length = 0
  }

  undoRow(): void {
    for (let noted = this.noted.pop(); noted; noted = this.noted.pop())
      if ('label' in noted) this.labels.delete(noted.label)
      else if ('text' in noted) {
        this.textAt.pop()
        this.textId.pop()
      } else {
        const seen = this.counts.get(noted.what)!
        if (--seen.count === 0) this.counts.delete(noted.what)
      }
  }

  /** Is this a column of words, rather than of numbers with some words among them? */
  isText(samples: number): boolean {
    const missing = this.counts.get('fields that say "no value"')?.count ?? 0
    return this.textAt.length > 0 && this.textAt.length >= (samples - missing) / 2
  }

  /** Values become indexes into the labels given back; stray numbers among the texts become labels too. */
  toLabels(values: Float64Array): string[] {
    const ids = new Map(this.labels)
    let next = 0
    for (let i = 0; i < values.length; i++) {
      if (this.textAt[next] === i) {
        const id = this.textId[next++]!
        values[i] = id < 0 ? Number.NaN : id
      } else if (!Number.isNaN(values[i])) {
        const text = String(values[i])
        if (!ids.has(text)) ids.set(text, ids.size)
        values[i] = ids.get(text)!
      }
    }
    return [...ids.keys()]
  }

  /** @param text told as what: a number field, a column of states (nothing to tell) or of remarks */
  skipped(name: string, asText: boolean, mixed: boolean): Skipped[] {
    const told: Skipped[] = []
    for (const [what, { count, line, example }] of this.counts) {
      const states = asText && this.labels.size < MOST_LABELS
      if (what === 'text' && (mixed || states)) continue
      const words = what !== 'text' ? what : asText ? 'remarks' : 'text in a number field'
      const short = example.length > SHOWN_CHARACTERS ? `${example.slice(0, 39)}…` : example
      told.push({ what: `"${name}": ${words}`, count, first: `line ${line}: "${short}"` })
    }
    return told
  }
}

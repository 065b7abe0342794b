import type { Span } from '../../shared/units.ts'

/** What a plot is asked to look like, and what it tells: the words that plot, pointer and drawings share. */
export interface PlotLine {
  readonly label: string
  /** Drawn as steps: switches, states, texts. */
  readonly held: boolean
  /** What a state's values mean, by value; null for a switch, which is on or off, and for numbers. */
  readonly words: readonly string[] | null
  /** One of many alike: drawn thin and grey behind those that are told apart. */
  readonly quiet?: boolean
}

export interface PlotMark {
  readonly atS: number
  readonly label: string
  readonly strong: boolean
}

export interface PlotLook {
  readonly lines: readonly PlotLine[]
  readonly unit: string
  readonly limits: readonly { readonly value: number; readonly label: string }[]
  readonly shade: Span | null
  readonly marks: readonly PlotMark[]
  readonly showTime: boolean
  readonly dark: boolean
  /** Every line is a switch or a state: each is a band in its own lane. */
  readonly lanes: boolean
}

export interface PlotEvents {
  /** The pointer stands at this time, or has left. */
  cursor(atS: number | null): void
  /** A stretch was dragged. */
  stretch(span: Span): void
  /** Dragged along: seconds moved. */
  move(byS: number): void
  /** Wheel: factor to zoom by about this time. */
  zoom(atS: number, factor: number): void
  click(atS: number): void
  dragMode(): 'zoom' | 'move'
}

import { escapeText } from './svg-chart.ts'

/** A switch or a state over time: what it was, from when to when. */
export interface SvgLane {
  readonly label: string
  readonly spans: readonly {
    readonly from: number
    readonly to: number
    /** The value in words. */
    readonly word: string
    /** Drawn as a box; else as a line. */
    readonly on: boolean
  }[]
}

const WIDTH = 680
const LEFT = 56
const RIGHT = 110
const TOP = 8
const LANE = 30
const BAND = 14
const BOTTOM = 22
/** Width of a letter of the lanes' words, about, in the drawing's own units. */
const LETTER = 5.2

/** Switches and states as bands, a lane each: a box with its word where it is on, a line where it is off. */
export function svgLanes(
  lanes: readonly SvgLane[],
  [from, to]: readonly [number, number],
  shade: readonly [number, number] | null,
  ticks: readonly { readonly at: number; readonly word: string }[],
): string {
  if (lanes.length === 0 || !(to > from)) return ''
  const height = TOP + lanes.length * LANE + BOTTOM
  const toX = (at: number): number => LEFT + ((at - from) / (to - from)) * (WIDTH - LEFT - RIGHT)
  const parts: string[] = []
  if (shade) {
    const [a, b] = [toX(Math.max(from, shade[0])), toX(Math.min(to, shade[1]))]
    parts.push(
      `<rect x="${n(a)}" y="${TOP}" width="${n(Math.max(2, b - a))}" height="${lanes.length * LANE}" fill="#e8e8e8"/>`,
    )
  }
  lanes.forEach(({ label, spans }, at) => {
    const top = TOP + at * LANE + 10
    parts.push(text(LEFT, top - 2, label, true))
    for (const { from: a, to: b, word, on } of spans) {
      const [x0, x1] = [toX(Math.max(from, a)), toX(Math.min(to, b))]
      parts.push(
        on
          ? `<rect x="${n(x0)}" y="${top}" width="${n(Math.max(1, x1 - x0))}" height="${BAND}" fill="#fff" stroke="#111"/>`
          : `<line x1="${n(x0)}" x2="${n(x1)}" y1="${top + BAND}" y2="${top + BAND}" stroke="#111"/>`,
      )
      if (x1 - x0 > LETTER * word.length + 6) parts.push(text(x0 + 3, top + BAND - 3.5, word))
    }
    const last = spans.at(-1)
    if (last) parts.push(text(WIDTH - RIGHT + 6, top + BAND - 3.5, last.word))
  })
  for (const { at, word } of ticks)
    parts.push(`<text x="${n(toX(at))}" y="${height - 10}" text-anchor="middle">${escapeText(word)}</text>`)
  const names = lanes.map(({ label }) => label).join(', ')
  return `<svg viewBox="0 0 ${WIDTH} ${height}" role="img" aria-label="${escapeText(names)}">${parts.join('')}</svg>`
}

const text = (x: number, y: number, words: string, bold = false): string =>
  `<text x="${n(x)}" y="${n(y)}"${bold ? ' font-weight="bold"' : ''}>${escapeText(words)}</text>`

const n = (value: number): string => String(Math.round(value * 10) / 10)

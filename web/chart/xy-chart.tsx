import { useEffect, useRef, useState } from 'preact/hooks'
import { numberText } from '../../shared/wording.ts'
import { useDark } from '../parts/use-dark.ts'
import { DASHES, lineColour } from './colours.ts'
import { steps } from './steps.ts'

export interface XyLine {
  readonly label: string
  readonly points: readonly (readonly [number, number])[]
  /** May leave the drawing: the axes are not stretched for it. */
  readonly beyond?: boolean
}

export interface XyProps {
  readonly title: string
  readonly xLabel: string
  readonly yLabel: string
  /** Counted pairs: darker where there are more. */
  readonly dots: {
    readonly x: readonly number[]
    readonly y: readonly number[]
    readonly count: readonly number[]
  } | null
  readonly lines?: readonly XyLine[]
  /** Closed outline of what is allowed. */
  readonly band?: {
    readonly label: string
    readonly outline: readonly (readonly [number, number])[]
    /** Where others lie, not what is allowed: grey, without an edge. */
    readonly quiet?: boolean
  } | null
  readonly height?: number
  /** In words, for those who cannot see the drawing. */
  readonly says: string
}

const [LEFT, RIGHT, TOP, BOTTOM] = [64, 16, 30, 48]

/** One channel against another, with model lines and a band over the dots. */
export function XyChart({
  title,
  xLabel,
  yLabel,
  dots,
  lines = [],
  band = null,
  height = 340,
  says,
}: XyProps) {
  const box = useRef<HTMLDivElement>(null)
  const [width, setWidth] = useState(600)
  const dark = useDark()
  useEffect(() => {
    const element = box.current!
    const watch = new ResizeObserver(() => setWidth(element.clientWidth))
    watch.observe(element)
    return () => watch.disconnect()
  }, [])
  const fitted = lines.filter((line) => !line.beyond)
  const xs = extent([
    ...(dots?.x ?? []),
    ...fitted.flatMap((l) => l.points.map(([x]) => x)),
    ...(band?.outline.map(([x]) => x) ?? []),
  ])
  const ys = extent([
    ...(dots?.y ?? []),
    ...fitted.flatMap((l) => l.points.map(([, y]) => y)),
    ...(band?.outline.map(([, y]) => y) ?? []),
  ])
  const toX = (x: number) => LEFT + ((x - xs[0]) / (xs[1] - xs[0])) * (width - LEFT - RIGHT)
  const toY = (y: number) => height - BOTTOM - ((y - ys[0]) / (ys[1] - ys[0])) * (height - TOP - BOTTOM)
  const path = (points: readonly (readonly [number, number])[]) =>
    points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${toX(x).toFixed(1)} ${toY(y).toFixed(1)}`).join('')
  return (
    <figure class="xy">
      <figcaption class="chart-keys">
        <strong>{title}</strong>
        {lines.map((line, at) => (
          <span key={line.label} class="line-key">
            <svg width="34" height="12" viewBox="0 0 34 12" aria-hidden="true">
              <line
                x1="1"
                x2="33"
                y1="6"
                y2="6"
                stroke={lineColour(at + 1, dark)}
                stroke-width="3"
                stroke-dasharray={DASHES[at]!.join(' ')}
              />
            </svg>
            {line.label}
          </span>
        ))}
        {band ? (
          <span class="line-key">
            <span class={band.quiet ? 'band-key quiet' : 'band-key'} /> {band.label}
          </span>
        ) : null}
      </figcaption>
      <div ref={box}>
        <svg width={width} height={height} role="img" aria-label={`${title}. ${says}`}>
          <clipPath id={`clip-${title.length}-${width}`}>
            <rect x={LEFT} y={TOP} width={Math.max(0, width - LEFT - RIGHT)} height={height - TOP - BOTTOM} />
          </clipPath>
          {steps(ys, 6).map((y) => (
            <g key={y}>
              <line x1={LEFT} x2={width - RIGHT} y1={toY(y)} y2={toY(y)} class="grid-line" />
              <text x={LEFT - 8} y={toY(y) + 5} text-anchor="end">
                {numberText(y)}
              </text>
            </g>
          ))}
          {steps(xs, width < 500 ? 5 : 8).map((x) => (
            <g key={x}>
              <line x1={toX(x)} x2={toX(x)} y1={TOP} y2={height - BOTTOM} class="grid-line" />
              <text x={toX(x)} y={height - BOTTOM + 20} text-anchor="middle">
                {numberText(x)}
              </text>
            </g>
          ))}
          <text x={LEFT} y={18} class="axis-name">
            {yLabel}
          </text>
          <text x={(LEFT + width - RIGHT) / 2} y={height - 6} text-anchor="middle" class="axis-name">
            {xLabel}
          </text>
          <g clip-path={`url(#clip-${title.length}-${width})`}>
            {band ? <path d={`${path(band.outline)}Z`} class={band.quiet ? 'band quiet' : 'band'} /> : null}
            {dots ? <Dots dots={dots} toX={toX} toY={toY} colour={lineColour(0, dark)} /> : null}
            {lines.map((line, at) => (
              <path
                key={line.label}
                d={path(line.points)}
                fill="none"
                stroke={lineColour(at + 1, dark)}
                stroke-width="3"
                stroke-dasharray={DASHES[at]!.join(' ')}
              />
            ))}
          </g>
        </svg>
      </div>
    </figure>
  )
}

/** All dots of one darkness are one path: thousands draw at once. */
function Dots({
  dots,
  toX,
  toY,
  colour,
}: {
  dots: NonNullable<XyProps['dots']>
  toX: (x: number) => number
  toY: (y: number) => number
  colour: string
}) {
  const levels = ['', '', '']
  for (let i = 0; i < dots.x.length; i++) {
    const level = dots.count[i]! > 30 ? 2 : dots.count[i]! > 3 ? 1 : 0
    levels[level] += `M${toX(dots.x[i]!).toFixed(1)} ${toY(dots.y[i]!).toFixed(1)}h0`
  }
  return (
    <>
      {levels.map((d, level) =>
        d === '' ? null : (
          <path
            key={level}
            d={d}
            stroke={colour}
            stroke-opacity={[0.45, 0.7, 1][level]}
            stroke-width={[4, 4.5, 5][level]}
            stroke-linecap="round"
          />
        ),
      )}
    </>
  )
}

function extent(values: readonly number[]): [number, number] {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const value of values) {
    if (value < low) low = value
    if (value > high) high = value
  }
  if (!(high > low)) return [Number.isFinite(low) ? low - 1 : 0, Number.isFinite(low) ? low + 1 : 1]
  const air = (high - low) * 0.05
  return [low - air, high + air]
}

import { catalogueEntry } from '../../shared/channels.ts'
import type { Channel } from '../../shared/drive.ts'
import { correlation } from '../math/correlation.ts'
import { extremes, mean, standardDeviation } from '../math/stats.ts'
import { roomOffset, roundOffset, roundScales } from './round-scale.ts'

/** channel = factor · raw + offset, as people would have written it. */
export interface ScaledFit {
  readonly factor: number
  readonly offset: number
  /** Standard deviation of what is left, against the channel's. */
  readonly left: number
  /** How well and how simply: −ln(left), less what is odd. */
  readonly score: number
  /** 0 … 1: how well the data fix the scale among round ones. */
  readonly certainty: number
}

/** Gains of two boxes differ by this much and are still of one scale; offsets by so much of the channel's movement. */
const GAIN = 0.03
const ODD = 2.2

/**
 * The simplest scale that fits: the straight line first, then round factors and offsets near it.
 * @param leastR2 correlation below which there is no fit
 */
export function scaledFit(
  raw: Float64Array,
  seen: Float64Array,
  channel: Channel,
  length: number,
  leastR2: number,
): ScaledFit | null {
  const { r, pairs, slope } = correlation(raw, seen)
  if (pairs < 60) return null
  if (!(r * r >= leastR2)) return levelFit(raw, seen, channel)
  const { x, y } = withoutStrays(raw, seen, r * r > 0.95 ? null : slope)
  const line = correlation(x, y)
  if (line.pairs < 60 || !(line.r * line.r >= leastR2) || line.slope === 0)
    return levelFit(raw, seen, channel)
  return roundFit(x, y, line.slope, channel, length)
}

/** Of the round scales near a line the one that fits best for how usual it is. */
function roundFit(
  x: Float64Array,
  y: Float64Array,
  slope: number,
  channel: Channel,
  length: number,
): ScaledFit {
  const spread = standardDeviation(y)
  const range = extremes(y)
  const average = mean(y)
  const averageX = mean(x)
  const unit = catalogueEntry(channel.id)?.unit ?? ''
  const free = leftOver(x, y, slope)
  // neighbouring points of a smooth drive are not independent: about one in eight counts
  const independent = Math.max(8, x.length / 8)
  const sure = (free.sd / (standardDeviation(x) * Math.sqrt(independent))) * 2
  const within = Math.max(Math.abs(slope) * GAIN, sure)
  const size = Math.abs(slope)
  const near = roundScales(Math.max(size - within, size * 0.5), size + within)
  const floor = Math.max(free.sd, channel.step / 3, 1e-9)
  let best: (ScaledFit & { cost: number }) | null = null
  let second = Number.POSITIVE_INFINITY
  for (const { factor: magnitude, oddness } of near) {
    const factor = magnitude * Math.sign(slope)
    const { sd, offset } = leftOver(x, y, factor)
    const slack = Math.max(
      3 * channel.step,
      3 * (sd / Math.sqrt(independent)) + 3 * Math.abs(within * averageX) * 0.2,
      0.012 * (range.high - range.low + Math.abs(average)) * (unit === '°C' ? 1 : 0.6),
    )
    const round = roundOffset(offset, slack, unit) ?? roomOffset(offset, slack, magnitude, length)
    const tried = round ? rootMean(x, y, factor, round.offset) : sd
    const cost =
      Math.log(Math.max(tried, floor) / floor) +
      oddness +
      (round ? round.oddness : 1.2) +
      (factor < 0 ? 0.3 : 0)
    if (best && cost >= best.cost) {
      second = Math.min(second, cost)
      continue
    }
    if (best) second = Math.min(second, best.cost)
    const left = Math.max(tried, floor) / spread
    best = {
      factor,
      offset: round ? round.offset : Number(offset.toPrecision(4)),
      left,
      score: 0,
      certainty: 0,
      cost,
    }
  }
  if (!best) {
    const left = floor / spread
    return {
      factor: Number(slope.toPrecision(4)),
      offset: Number(free.offset.toPrecision(4)),
      left,
      score: -Math.log(left) - ODD,
      certainty: 0.35,
    }
  }
  const { cost, ...fit } = best
  return {
    ...fit,
    score: -Math.log(fit.left) - 0.5 * Math.min(cost, ODD),
    certainty: (1 - Math.exp(-3 * Math.max(0.05, second - cost))) * Math.exp(-0.25 * cost),
  }
}

/** Scales of temperatures, most usual first. Common practice, no source. */
const DEGREES = [1, 0.5, 0.1, 0.25, 0.2, 0.01, 0.05, 0.125]
const AWAY_C = 0.9

/**
 * A temperature that hardly moved has no slope to go by, but a level: the scale whose readings lie within a kelvin all
 * along. Never sure: many numbers stand still.
 */
function levelFit(raw: Float64Array, seen: Float64Array, channel: Channel): ScaledFit | null {
  if (catalogueEntry(channel.id)?.unit !== '°C') return null
  const { high, low } = extremes(seen)
  if (high - low > 6) return null
  let best: ScaledFit | null = null
  let others = 0
  for (const factor of DEGREES)
    for (const offset of [0, -40]) {
      let sum = 0
      let worst = 0
      let n = 0
      for (let i = 0; i < raw.length; i++) {
        const off = Math.abs(factor * raw[i]! + offset - seen[i]!)
        if (!Number.isFinite(off)) continue
        sum += off * off
        worst = Math.max(worst, off)
        n++
      }
      const sd = Math.sqrt(sum / n)
      if (!(sd < AWAY_C + channel.step / 2) || worst > 3 + channel.step) continue
      others++
      const score = 1.1 + 0.4 * (1 - sd / (AWAY_C + channel.step / 2)) - (offset === 0 ? 0 : 0.1)
      if (!best || score > best.score) best = { factor, offset, left: 0.35, score, certainty: 0.45 }
    }
  return best && others > 1 ? { ...best, certainty: 0.3 } : best
}

/** The pairs that are known; with a slope, those near its line. */
function withoutStrays(
  raw: Float64Array,
  seen: Float64Array,
  slope: number | null,
): { x: Float64Array; y: Float64Array } {
  const xs: number[] = []
  const ys: number[] = []
  for (let i = 0; i < raw.length; i++)
    if (Number.isFinite(raw[i]! + seen[i]!)) {
      xs.push(raw[i]!)
      ys.push(seen[i]!)
    }
  if (slope === null) return { x: Float64Array.from(xs), y: Float64Array.from(ys) }
  const rest = xs.map((x, i) => ys[i]! - slope * x)
  const sorted = [...rest].sort((a, b) => a - b)
  const middle = sorted[sorted.length >> 1]!
  const off = rest.map((each) => Math.abs(each - middle)).sort((a, b) => a - b)
  const far = Math.max(6 * off[off.length >> 1]!, off[Math.floor(0.95 * (off.length - 1))]!)
  const keep = rest.map((each) => Math.abs(each - middle) <= far)
  return {
    x: Float64Array.from(xs.filter((_, i) => keep[i])),
    y: Float64Array.from(ys.filter((_, i) => keep[i])),
  }
}

function leftOver(x: Float64Array, y: Float64Array, factor: number): { sd: number; offset: number } {
  let sum = 0
  for (let i = 0; i < x.length; i++) sum += y[i]! - factor * x[i]!
  const offset = sum / x.length
  return { sd: rootMean(x, y, factor, offset), offset }
}

function rootMean(x: Float64Array, y: Float64Array, factor: number, offset: number): number {
  let sum = 0
  for (let i = 0; i < x.length; i++) sum += (y[i]! - factor * x[i]! - offset) ** 2
  return Math.sqrt(sum / x.length)
}

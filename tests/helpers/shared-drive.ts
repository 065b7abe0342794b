import type { RawLog, RawSeries } from '../../shared/raw-log.ts'
import { cleanSeries } from '../../src/drive/cleaning/clean-channel.ts'
import type { NamedLog } from '../../src/drive/clock/align-logs.ts'
import { nameSeries } from '../../src/naming/name-series.ts'

/** Repeatable numbers 0 … 1. Source: mulberry32, public domain (from memory). */
export function seeded(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), state | 1)
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296
  }
}

const normal = (random: () => number): number =>
  Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())

/** What truly happened, at any moment of true time, made of smooth presses and lifts; independent of any reader. */
export interface SharedDrive {
  readonly lengthS: number
  readonly current: (s: number) => number
  readonly voltage: (s: number) => number
  readonly speed: (s: number) => number
  readonly torque: (s: number) => number
  readonly brake: (s: number) => number
}

const STEP = 0.005

export function sharedDrive(seed: number, lengthS: number): SharedDrive {
  const random = seeded(seed)
  const n = Math.ceil(lengthS / STEP) + 2
  const torque = new Float64Array(n)
  let level = 0
  let at = 0
  while (at < n) {
    const next = random() < 0.3 ? -40 * random() : 150 * random() ** 2
    const ramp = Math.round((0.15 + 0.8 * random()) / STEP)
    const hold = Math.round((0.3 + 4 * random() ** 2) / STEP)
    for (let k = 0; k < ramp && at < n; k++, at++)
      torque[at] = level + (next - level) * (0.5 - 0.5 * Math.cos((Math.PI * k) / ramp))
    for (let k = 0; k < hold && at < n; k++, at++) torque[at] = next
    level = next
  }
  const speed = new Float64Array(n)
  const current = new Float64Array(n)
  const voltage = new Float64Array(n)
  let slow = 0
  for (let i = 1; i < n; i++) {
    const push = torque[i]! - 12 - 0.012 * speed[i - 1]! ** 2
    speed[i] = Math.max(0, speed[i - 1]! + push * 0.06 * STEP)
    current[i] = 1.5 + (torque[i]! * speed[i]!) / 90
    slow += ((current[i]! - slow) * STEP) / 12
    voltage[i] = 352 - 2e-4 * i * STEP * 10 - 0.09 * current[i]! - 0.06 * slow
  }
  const of = (values: Float64Array) => (s: number) => {
    const place = Math.max(0, Math.min(n - 2, s / STEP))
    const i = Math.floor(place)
    return values[i]! + (values[i + 1]! - values[i]!) * (place - i)
  }
  return {
    lengthS,
    current: of(current),
    voltage: of(voltage),
    speed: of(speed),
    torque: of(torque),
    brake: (s) => (of(torque)(s) < -5 ? 1 : 0),
  }
}

export interface BoxColumn {
  readonly id: string
  readonly unit: string
  readonly of: (s: number) => number
  readonly noise: number
  readonly step: number
  /** Values are asked for only this often, and held between, s. */
  readonly pollS?: number
}

/** A box that logs some of a drive: own time = (true time) · (1 + driftPpm · 10⁻⁶) + offsetS. */
export interface Box {
  readonly name: string
  readonly fromS: number
  readonly toS: number
  readonly periodS: number
  readonly jitterS?: number
  readonly driftPpm: number
  readonly offsetS: number
  readonly startedAt?: string
  readonly columns: readonly BoxColumn[]
  readonly clockSteps?: RawLog['clockSteps']
}

export function logOf(box: Box, seed: number): NamedLog {
  const random = seeded(seed)
  const trueS: number[] = []
  for (let s = box.fromS; s < box.toS; s += box.periodS) trueS.push(s + (box.jitterS ?? 0) * (random() - 0.5))
  const timeS = Float64Array.from(trueS, (s) => s * (1 + box.driftPpm * 1e-6) + box.offsetS)
  const series: RawSeries[] = box.columns.map((column) => {
    const pollPhase = random() * (column.pollS ?? 0)
    const values = new Float64Array(trueS.length)
    let polled = Number.NEGATIVE_INFINITY
    trueS.forEach((s, i) => {
      const moment = column.pollS ? Math.floor((s - pollPhase) / column.pollS) * column.pollS + pollPhase : s
      if (column.pollS && moment === polled) values[i] = values[i - 1]!
      else
        values[i] =
          Math.round((column.of(moment) + column.noise * normal(random)) / column.step) * column.step
      polled = moment
    })
    return {
      name: column.id,
      unit: column.unit,
      channel: column.id,
      timeS,
      values,
      fresh: null,
      labels: null,
      node: null,
    }
  })
  const log: RawLog = {
    name: box.name,
    sha256: '',
    layout: 'wide CSV',
    rows: trueS.length,
    skipped: [],
    series,
    startedAt: box.startedAt ?? null,
    fingerprint: box.name,
    bus: null,
    events: [],
    clockSteps: box.clockSteps ?? [],
  }
  return { log, named: cleanSeries(nameSeries(series)) }
}

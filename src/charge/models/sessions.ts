import type { ChargeSession, Holder } from '../../../shared/review.ts'
import type { Facts } from '../../facts/facts.ts'
import { extremes } from '../../math/stats.ts'
import { restedCapacity } from './rested-capacity.ts'
import { sessionEnd } from './session-end.ts'
import { sessionEnergy } from './session-energy.ts'
import { heldStretches, holders, SLOW_SHARE } from './session-holders.ts'
import { sessionPhases } from './session-phases.ts'
import { type SessionSeries, sessionSeries } from './session-series.ts'
import { FLOWS_A, sessionSpans } from './session-spans.ts'
import { type Stop, sessionStops } from './session-stops.ts'

/** One charge session: its channels, what they say, and its row in the review. */
export interface Session {
  readonly series: SessionSeries
  readonly by: readonly Holder[]
  readonly stops: readonly Stop[]
  readonly slow: Slow | null
  readonly row: ChargeSession
}

/** Share of the time under 93 % of what was asked, and what it is with both current readings off by their tolerance. */
export interface Slow {
  readonly percent: number
  readonly low: number
  readonly high: number
  readonly askedS: number
}

/** Two current readings may differ by this before one is under the other. Common practice, no source. */
const READINGS_APART = 0.015

export function sessions(facts: Facts): Session[] {
  return sessionSpans(facts).flatMap((span) => {
    const series = sessionSeries(facts, span)
    return series ? [sessionOf(facts, series)] : []
  })
}

function sessionOf(facts: Facts, series: SessionSeries): Session {
  const by = holders(facts, series)
  const stops = sessionStops(facts, series)
  const energy = sessionEnergy(series)
  const capacity = restedCapacity(facts, series.span, energy.intoAh)
  const held = heldStretches(series, by)
  const slow = slowShare(series, by)
  const socs = series.soc.filter(Number.isFinite)
  return {
    series,
    by,
    stops,
    slow,
    row: {
      span_s: [series.span[0], series.span[1]],
      phases: sessionPhases(series, by),
      into_wh: energy.intoWh?.value ?? null,
      into_wh_plus_minus: energy.intoWh?.plusMinus ?? null,
      into_ah: energy.intoAh?.value ?? null,
      into_ah_plus_minus: energy.intoAh?.plusMinus ?? null,
      charger_wh: energy.chargerWh?.value ?? null,
      charger_wh_plus_minus: energy.chargerWh?.plusMinus ?? null,
      wall_wh: energy.wallWh?.value ?? null,
      wall_wh_plus_minus: energy.wallWh?.plusMinus ?? null,
      wall_phases: energy.wallPhases,
      efficiency_percent: energy.efficiency?.value ?? null,
      efficiency_percent_plus_minus: energy.efficiency?.plusMinus ?? null,
      soc_from: socs[0] ?? null,
      soc_to: socs.at(-1) ?? null,
      most_a: most(series.delivered),
      most_w: most(series.delivered.map((a, i) => a * series.volts[i]!)),
      held: held.map(({ by: who, span_s }) => ({ by: who, span_s: [span_s[0], span_s[1]] })),
      held_s: totals(series, by),
      power: powerCurve(series, energy.wallPhases),
      slow_percent: slow?.percent ?? null,
      stops: stops.map((stop) => ({
        at_s: stop.fromS,
        lasts_s: stop.lastsS,
        again_s: stop.againS,
        kind: stop.kind,
        first: STOP_WORDS[stop.first.cause],
        channel: stop.first.channel,
      })),
      end: sessionEnd(facts, series, energy.intoAh?.value ?? null),
      capacity_ah: capacity?.value ?? null,
      capacity_ah_plus_minus: capacity?.plusMinus ?? null,
      notes: [...energy.notes],
    },
  }
}

/** What changed first, as it goes on "first: …". */
export const STOP_WORDS: Readonly<Record<Stop['first']['cause'], string>> = {
  request: 'the battery unit asked for nothing',
  enable: 'charging was no longer enabled',
  lock: 'the plug was unlocked',
  plug: 'the plug was out',
  'car-let-go': 'the car let the station go (pilot back at 9 V)',
  interlock: 'the interlock loop opened',
  mains: 'the mains at the charger went away',
  station: 'the station withdrew its offer (pilot)',
  fault: 'the battery unit reported a fault',
  contactor: 'a contactor opened',
  charger: 'nothing else; the charger was asked for current and gave none',
  unknown: 'nothing that this log holds',
}

/** So many stretches of a session are told. */
const STRETCHES = 120

/** Mean power in equal stretches: into the pack, and from the wall. */
function powerCurve(series: SessionSeries, phases: number | null): ChargeSession['power'] {
  const { timeS, packA, volts, mainsA, mainsV, delivered } = series
  const amps = packA.some(Number.isFinite) ? packA : delivered
  const count = Math.min(STRETCHES, timeS.length)
  return Array.from({ length: count }, (_, k): [number, number | null, number | null] => {
    const from = Math.floor((k * timeS.length) / count)
    const to = Math.max(from + 1, Math.floor(((k + 1) * timeS.length) / count))
    const mean = (watts: (i: number) => number): number | null => {
      let sum = 0
      let n = 0
      for (let i = from; i < to; i++)
        if (Number.isFinite(watts(i))) {
          sum += watts(i)
          n++
        }
      return n === 0 ? null : sum / n
    }
    return [
      (timeS[from]! + timeS[to - 1]!) / 2,
      mean((i) => amps[i]! * volts[i]!),
      phases === null ? null : mean((i) => phases * mainsA[i]! * mainsV[i]!),
    ]
  })
}

function most(values: Float64Array): number | null {
  const high = extremes(values).high
  return Number.isFinite(high) ? high : null
}

function totals({ stepS }: SessionSeries, by: readonly Holder[]): { by: Holder; time_s: number }[] {
  const time = new Map<Holder, number>()
  for (const who of by) time.set(who, (time.get(who) ?? 0) + stepS)
  return [...time].map(([who, time_s]) => ({ by: who, time_s })).sort((a, b) => b.time_s - a.time_s)
}

/**
 * Of the time in which current flowed and was asked for, the share under 93 % of what was asked while the voltage stood
 * below what was asked. Null without a current request.
 */
function slowShare(
  { delivered, requestA, stepS, unseenA }: SessionSeries,
  by: readonly Holder[],
): Slow | null {
  let asked = 0
  const under = [0, 0, 0]
  const bars = [SLOW_SHARE, SLOW_SHARE * (1 - READINGS_APART), SLOW_SHARE * (1 + READINGS_APART)]
  for (let i = 0; i < by.length; i++) {
    if (!(requestA[i]! > FLOWS_A) || !(delivered[i]! >= FLOWS_A)) continue
    asked++
    if (by[i] === 'voltage') continue
    bars.forEach((bar, k) => {
      if (delivered[i]! + unseenA < bar * requestA[i]!) under[k]!++
    })
  }
  if (asked === 0) return null
  const percent = (count: number): number => (100 * count) / asked
  const sample = percent(2)
  return {
    percent: percent(under[0]!),
    low: Math.max(0, percent(under[1]!) - sample),
    high: Math.min(100, percent(under[2]!) + sample),
    askedS: asked * stepS,
  }
}

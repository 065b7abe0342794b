import type { ChannelId } from '../../../shared/channels.ts'
import type { Span } from '../../../shared/units.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { spansWhere } from '../../math/spans.ts'
import { median, quantile } from '../../math/stats.ts'
import { heardTime } from '../../samples/heard-time.ts'
import { heldAt, linearAt, staleAfter } from '../../samples/on-one-clock.ts'

/** What a logged flow did while the pump was told to run. */
export interface PumpEffect {
  readonly channels: readonly ChannelId[]
  /** Told to run, and the flow stayed away; ascending. */
  readonly idle: readonly Span[]
  /** So long it was told to run in all, s. */
  readonly toldS: number
  /** Usual flow at the pump's full command, l/min; null where none ever flowed. */
  readonly usualLitres: number | null
  /** Why it cannot be judged; null where it can. */
  readonly untold: string | null
}

const GRID_S = 1
/** Told to run: a duty from here on, %; and a sound pump flows after so long. Common practice, no source. */
const TOLD_PERCENT = 40
const STARTS_S = 6
const HELD_S = 12
/** A paddle reads nothing below some 2 l/min: a usual flow must be above, and what counts as none below. No source. */
const LEAST_LITRES = 3
const FLOWS_LITRES = 1
/** So little of the usual flow at its command is none; no source. */
const NONE_SHARE = 0.3
/** A pump told so long in all, and never a litre: without another drive nothing says that the flow is read at all. */
const NEVER_S = 30

/**
 * Model: flow ÷ command (duty, or 100 % of a pump that is on) has a usual value q (80 of 100 moments with a flow lie
 * below); no flow: under 0.3 · q · command for over 12 s, from 6 s after the command came.
 * Blind: a duty that is written the other way round (the flow then falls with it: said, nothing accused).
 * Gives null where flow or command are not logged.
 */
export function pumpEffect(facts: Facts): PumpEffect | null {
  const flow = channel(facts, 'coolant_flow')
  const duty = channel(facts, 'pump_duty')
  const on = channel(facts, 'coolant_pump')
  const command = duty ?? (on && on.polarity !== null ? on : undefined)
  if (!flow || !command) return null
  const grid = heardTime(facts.drive.channels, facts.drive.durationS).evenly(GRID_S)
  const litres = linearAt(flow, grid, 10)
  const told = heldAt(command, grid, staleAfter(command)).map((each) => (duty ? each : 100 * each))
  const running = spansWhere(grid, (i) => told[i]! >= TOLD_PERCENT).map(
    ([from, to]): Span => [from + STARTS_S, to],
  )
  const settled = (i: number): boolean => running.some(([from, to]) => grid[i]! >= from && grid[i]! < to)
  const judged = Uint8Array.from(grid, (_, i) => (settled(i) && Number.isFinite(litres[i]!) ? 1 : 0))
  const ratios = litres.filter((each, i) => judged[i] === 1 && each > FLOWS_LITRES)
  const perPercent = litres
    .map((each, i) => (judged[i] === 1 && each > FLOWS_LITRES ? each / told[i]! : Number.NaN))
    .filter(Number.isFinite)
  const toldS = judged.reduce((sum, each) => sum + each, 0) * GRID_S
  const usual = ratios.length >= 10 ? quantile(perPercent, 0.8) : null
  const lowFlow = median(litres.filter((_, i) => told[i]! < 20))
  const highFlow = median(litres.filter((_, i) => told[i]! > 60))
  const backwards = lowFlow > FLOWS_LITRES && lowFlow > 1.5 * highFlow
  const untold = backwards
    ? 'the flow falls as the command rises: the duty is written the other way round, or belongs to another pump'
    : toldS < HELD_S
      ? 'the pump was hardly told to run'
      : usual !== null && 100 * usual < LEAST_LITRES
        ? `its usual flow of ${(100 * usual).toFixed(1)} l/min is too small to miss`
        : usual === null && toldS < NEVER_S
          ? 'no flow was seen, in too short a time'
          : null
  const idle = untold
    ? []
    : spansWhere(
        grid,
        (i) =>
          judged[i] === 1 && litres[i]! < (usual === null ? FLOWS_LITRES : NONE_SHARE * usual * told[i]!),
      ).filter(([from, to]) => to - from >= HELD_S)
  return {
    channels: ['coolant_flow', duty ? 'pump_duty' : 'coolant_pump'],
    idle,
    toldS,
    usualLitres: usual === null ? null : 100 * usual,
    untold,
  }
}

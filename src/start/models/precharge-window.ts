import type { ChannelId } from '../../../shared/channels.ts'
import type { Facts } from '../../facts/facts.ts'
import { riseBegunBefore } from './link-rise.ts'
import { voltages } from './precharge-voltages.ts'
import { firstMain, type Sequence } from './start-sequences.ts'
import { type Change, startSignals, stretches, valueAt } from './start-signals.ts'

/** When a precharge ran, and what bounds it. */
export interface PrechargeWindow {
  /** From the closing of the precharge path to its end. */
  readonly startS: number
  readonly endS: number
  /** From here on the path is surely closed: the first sample that shows it. */
  readonly surelyS: number
  /** What shows that precharge ran. */
  readonly seenBy: 'contactor' | 'battery unit' | 'link voltage'
  /** The second main contactor closing; null where it never did. */
  readonly closing: Change | null
}

/** Two files whose clocks were not compared. Common practice, no source. */
const UNKNOWN_SKEW_S = 0.1
/** How far the link's file may be off the contactors' file, s: nothing where one file holds both. */
export function clockSkewS(facts: Facts, closing: Change): number {
  const { channels, files } = facts.drive
  const fileOf = (id: ChannelId) => channels.get(id)?.file
  const contactors = (['positive', 'negative'] as const).map(
    (name) => fileOf(`contactor_${name}`) ?? fileOf(`contactor_${name}_feedback`),
  )
  const link = fileOf('link_voltage')
  const other = contactors.find((file) => file !== undefined) ?? fileOf('bms_state')
  if (other === undefined || other === link || !Number.isFinite(closing.atS)) return 0
  const plusMinus = (name: string | undefined): number =>
    files.find((file) => file.name === name)?.clock.plus_minus_s ?? UNKNOWN_SKEW_S
  return plusMinus(link) + plusMinus(other)
}

/** When the precharge path was closed and what ended it; null where the sequence shows no precharge. */
export function prechargeWindow(facts: Facts, sequence: Sequence): PrechargeWindow | null {
  if (!sequence.startSeen) return null
  const signals = facts.once(startSignals)
  const early = signals[firstMain(facts)]
  const late = signals[firstMain(facts) === 'negative' ? 'positive' : 'negative']
  const inside = (change: Change, i: number): boolean =>
    i > 0 && change.value === 1 && change.atS >= sequence.startS - 0.5 && change.atS < sequence.endS
  const unit = signals.bms
  const unitClosed = unit?.track.changes.find((change, i) =>
    inside({ ...change, value: isClosed(unit.meaning(change.value)) ? 1 : 0 }, i),
  )
  const closing = late?.changes.find(inside) ?? (late ? null : (unitClosed ?? null))
  const latest = closing?.earliestS ?? sequence.opened?.earliestS ?? sequence.endS
  if (signals.precharge) {
    const run = stretches(signals.precharge, (v) => v === 1, signals.endS).find(
      (each) => each.startS >= sequence.startS - 0.5 && each.startS < sequence.endS,
    )
    if (!run) return null
    const main =
      early && valueAt(early, run.startS) === 0
        ? early.changes.find((c) => c.atS > run.startS && c.value === 1)
        : null
    const shownS = Math.max(earliestOf(run.from), main ? earliestOf(main) : 0)
    const volts = facts.once(voltages)
    const begunS = riseBegunBefore(facts, shownS, volts.packV(shownS - 1, shownS + 0.5), 1 / volts.linkRatio)
    const startS = begunS ?? shownS
    const endS = Math.min(run.to?.earliestS ?? run.endS, Math.max(latest, startS))
    const surelyS = Math.max(run.from.atS, main?.atS ?? 0)
    return { startS, endS: Math.max(endS, startS), surelyS, closing, seenBy: 'contactor' }
  }
  if (unit) {
    const run = stretches(unit.track, (code) => unit.meaning(code) === 'precharge', signals.endS).find(
      (each) => each.startS >= sequence.startS - 0.5 && each.startS <= sequence.endS,
    )
    if (run) {
      const over = run.to && isClosed(unit.meaning(run.to.value))
      return {
        startS: Math.min(earliestOf(run.from), sequence.startS),
        endS: Math.min(run.to?.earliestS ?? run.endS, latest),
        surelyS: run.from.atS,
        closing: closing ?? (over ? run.to : null),
        seenBy: 'battery unit',
      }
    }
  }
  if (!facts.drive.channels.has('link_voltage')) return null
  return {
    startS: sequence.startS,
    endS: Math.max(sequence.startS, latest),
    surelyS: sequence.startS,
    closing,
    seenBy: 'link voltage',
  }
}

const isClosed = (meaning: string | null): boolean => ['closed', 'ready', 'drive'].includes(meaning ?? '')

const earliestOf = (change: Change): number =>
  Number.isFinite(change.earliestS) ? change.earliestS : change.atS

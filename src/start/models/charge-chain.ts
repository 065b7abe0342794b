import type { ChannelId } from '../../../shared/channels.ts'
import { absence, type Facts } from '../../facts/facts.ts'
import { inFault } from './reported-faults.ts'
import { driverAsked } from './start-intent.ts'
import { firstMain } from './start-sequences.ts'
import { firstWhere, samplesIn, startSignals, stretches, switchTrack, type Track } from './start-signals.ts'
import { no, unseen, type Verdict, yes } from './start-verdict.ts'

export type ChargeReached = 'unknown' | 'waiting' | 'precharge' | 'contactors' | 'charging'

export interface ChargeStep {
  readonly name: string
  readonly label: string
  readonly channels: readonly string[]
  readonly verdict: Verdict
}

/** A car that was plugged in, or whose battery unit said that it charges, and how far it came. */
export interface JudgedCharge {
  readonly startS: number
  readonly endS: number
  readonly reached: ChargeReached
  readonly steps: readonly ChargeStep[]
  readonly firstFailed: string | null
}

/** A charger and a battery unit may take this long to agree and close, s. Common practice, no source. */
const PATIENCE_S = 30
/** More than this is a charge, A: less may be a sensor's zero. Common practice, no source. */
const FLOWS_A = 1
/** A full car takes nothing, %. Common practice, no source. */
const FULL_PERCENT = 97
/** The pilot offers current from this share on, % (IEC 61851-1, annex A: 3 to 97 %; from memory). */
const OFFERED = [3, 97] as const

/**
 * Every charge of the log: the plug in, or a state that means charging, and nobody asking for a start with the key on.
 *
 * Chain: plug → lock → station offers (pilot) → battery unit without fault → contactors → current. A step whose channel
 * is not logged is not seen. It failed only where somebody asked for a charge (locked, offered, enabled, mains there),
 * the car is not full, half a minute went by and no current came.
 */
export function judgedCharges(facts: Facts): JudgedCharge[] {
  return spansOf(facts).map(({ startS, endS }) => {
    const steps = [
      plug(facts, startS),
      switched(facts, 'lock', 'plug locked', 'charge_lock', startS, endS),
      offered(facts, startS, endS),
      battery(facts, startS, endS),
      contactors(facts, startS, endS),
      current(facts, startS, endS),
    ]
    const heldAt = (name: string) => steps.find((each) => each.name === name)?.verdict.held
    const charges = heldAt('current') === true
    const failed =
      !charges && endS - startS > PATIENCE_S && asked(facts, startS, endS) && !isFull(facts, startS, endS)
        ? (steps.find(({ verdict }) => verdict.held === false)?.name ?? null)
        : null
    return {
      startS,
      endS,
      reached: charges ? 'charging' : heldAt('contactors') === true ? 'contactors' : 'waiting',
      steps,
      firstFailed: failed,
    }
  })
}

function spansOf(facts: Facts): { startS: number; endS: number }[] {
  const { plug: track, bms, key } = facts.once(startSignals)
  const endS = facts.drive.durationS
  const plugged = stretches(track, (value) => value === 1, endS)
  const charging = bms ? stretches(bms.track, (code) => bms.meaning(code) === 'charging', endS) : []
  const keyedTry = (fromS: number, toS: number): boolean =>
    firstWhere(key, fromS, toS, (value) => value === 1) !== null && driverAsked(facts, fromS, toS) !== null
  return (plugged.length > 0 ? plugged : charging)
    .map((held) => ({ startS: held.startS, endS: held.endS }))
    .filter((span) => span.endS - span.startS > 1 && !keyedTry(span.startS, span.endS))
}

function plug(facts: Facts, startS: number): ChargeStep {
  const { plug: track } = facts.once(startSignals)
  const seen = firstWhere(track, startS, startS, (value) => value === 1)
  return {
    name: 'plug',
    label: 'charge plug in',
    channels: ['charge_plug'],
    verdict: track
      ? yes(seen, 'the charge plug signal says in')
      : unseen(`${absence(facts, ['charge_plug'])} (charge_plug)`),
  }
}

function switched(
  facts: Facts,
  name: string,
  label: string,
  id: ChannelId,
  startS: number,
  endS: number,
): ChargeStep {
  const track = switchTrack(facts, id)
  const seen = firstWhere(track, startS, endS, (value) => value === 1)
  const verdict = !track
    ? unseen(`${absence(facts, [id])} (${id})`)
    : seen
      ? yes(seen, `${label} at ${seen.atS.toFixed(2)} s`)
      : no(startS, `${id} never came on`, { throughout: true })
  return { name, label, channels: [id], verdict }
}

function offered(facts: Facts, startS: number, endS: number): ChargeStep {
  const { timeS, values } = samplesIn(facts.drive.channels.get('pilot_duty'), startS, endS)
  const at = values.findIndex((percent) => percent >= OFFERED[0] && percent <= OFFERED[1])
  const verdict =
    values.length === 0
      ? unseen(`${absence(facts, ['pilot_duty'])} (pilot_duty)`)
      : at >= 0
        ? yes(
            { atS: timeS[at]!, earliestS: timeS[at - 1] ?? timeS[at]!, value: 1 },
            `the pilot offers current from ${timeS[at]!.toFixed(2)} s`,
          )
        : no(startS, 'the pilot never offers current', { throughout: true })
  return {
    name: 'pilot',
    label: 'station offers current',
    channels: ['pilot_duty', 'pilot_voltage'],
    verdict,
  }
}

function battery(facts: Facts, startS: number, endS: number): ChargeStep {
  const { bms } = facts.once(startSignals)
  const seen = bms !== null || facts.drive.channels.has('bms_faults')
  const faulty = inFault(facts, 'bms', endS)
  return {
    name: 'battery',
    label: 'battery unit content',
    channels: ['bms_state', 'bms_faults'],
    verdict: !seen
      ? unseen(`${absence(facts, ['bms_state', 'bms_faults'])} (bms_state, bms_faults)`)
      : faulty
        ? no(startS, 'the battery unit reports a fault')
        : yes(null, 'neither its state nor its fault bits speak against it at the end'),
  }
}

/** The charger's own contactor where there is one, else the mains, else what the battery unit says. */
function contactors(facts: Facts, startS: number, endS: number): ChargeStep {
  const signals = facts.once(startSignals)
  const late = firstMain(facts) === 'negative' ? signals.positive : signals.negative
  const track: Track | null = switchTrack(facts, 'contactor_charge') ?? late
  const closed = firstWhere(track, startS, endS, (value) => value === 1)
  const byUnit = signals.bms
    ? firstWhere(signals.bms.track, startS, endS, (code) =>
        ['charging', 'closed', 'drive'].includes(signals.bms!.meaning(code) ?? ''),
      )
    : null
  const seen = closed ?? (track ? null : byUnit)
  return {
    name: 'contactors',
    label: 'contactors closed',
    channels: ['contactor_charge', 'contactor_positive', 'contactor_negative', 'bms_state'],
    verdict: seen
      ? yes(seen, `closed at ${seen.atS.toFixed(2)} s`)
      : track
        ? no(startS, `${track.id} never closed`, { throughout: true })
        : unseen(
            `${absence(facts, ['contactor_charge', 'contactor_positive'])} (contactor_charge, contactor_positive)`,
          ),
  }
}

function current(facts: Facts, startS: number, endS: number): ChargeStep {
  const into = (id: ChannelId, flows: (amperes: number) => boolean) => {
    const { timeS, values } = samplesIn(facts.drive.channels.get(id), startS, endS)
    const at = values.findIndex((a, i) => flows(a) && flows(values[i + 1] ?? Number.NaN))
    return { seen: values.length > 1, atS: timeS[at] }
  }
  const charger = into('charger_current', (a) => Math.abs(a) > FLOWS_A)
  const pack = into('pack_current', (a) => a < -FLOWS_A)
  const atS = charger.atS ?? pack.atS
  return {
    name: 'current',
    label: 'charge current',
    channels: ['charger_current', 'pack_current'],
    verdict:
      atS !== undefined
        ? yes({ atS, earliestS: atS, value: 1 }, `current flows into the pack from ${atS.toFixed(2)} s`)
        : charger.seen || pack.seen
          ? no(startS, `no current over ${FLOWS_A} A came`, { throughout: true })
          : unseen(`${absence(facts, ['charger_current', 'pack_current'])} (charger_current, pack_current)`),
  }
}

/** Did somebody or something ask for a charge? A plug alone may wait for a timer. */
function asked(facts: Facts, startS: number, endS: number): boolean {
  for (const id of ['charge_lock', 'charge_enable'] as const)
    if (firstWhere(switchTrack(facts, id), startS, endS, (value) => value === 1)) return true
  const over = (id: ChannelId, bar: number): boolean =>
    samplesIn(facts.drive.channels.get(id), startS, endS).values.some((value) => value > bar)
  return over('charge_current_request', 0) || over('mains_voltage', 50) || over('pilot_duty', OFFERED[0])
}

function isFull(facts: Facts, startS: number, endS: number): boolean {
  const { values } = samplesIn(facts.drive.channels.get('soc'), startS, endS)
  return values.length > 0 && values.at(-1)! >= FULL_PERCENT
}

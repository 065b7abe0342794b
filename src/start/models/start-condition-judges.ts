import type { ChannelId } from '../../../shared/channels.ts'
import { LIVE_V } from '../../drive/live-volts.ts'
import { absence } from '../../facts/facts.ts'
import { FEWEST_FOR_MEDIAN } from '../../math/fewest.ts'
import { extremes, median } from '../../math/stats.ts'
import { voltages } from './precharge-voltages.ts'
import { inFault } from './reported-faults.ts'
import { firstMain } from './start-sequences.ts'
import {
  type Change,
  faultWords,
  firstWhere,
  PRESSED_PERCENT,
  samplesIn,
  switchTrack,
  trackOf,
  valueAt,
} from './start-signals.ts'
import { type Judge, no, notLogged, unseen, yes } from './start-verdict.ts'

/** A limit that reads 0, but for rounding. */
const NO_CURRENT_A = 0.5

/** A switch that must stay at one value through the attempt. */
export const staysAt =
  (id: ChannelId, wanted: 0 | 1, good: string, bad: string): Judge =>
  (outcome) => {
    const track = switchTrack(outcome.facts, id)
    if (!track) return unseen(notLogged(outcome.facts, [id]))
    const { startS } = outcome.attempt
    const fell = outcome.attempt.fell
    const until = outcome.ready ? outcome.untilS : Math.max(outcome.untilS, fell?.atS ?? 0)
    const first = valueAt(track, startS)
    if (Number.isNaN(first) && track.changes[0]!.atS > until)
      return unseen(`${id} has no sample in the attempt`)
    const off = track.changes.find((c) => c.atS > startS && c.atS <= until && c.value !== wanted)
    const wrongAtStart = Number.isFinite(first) && first !== wanted
    const back = track.changes.find((c) => c.atS > startS && c.value === wanted)
    if (wrongAtStart) {
      if (back && back.atS <= (outcome.firstMainClosed?.atS ?? until))
        return yes(back, `${good} from ${back.atS.toFixed(2)} s on; before that ${bad}`)
      return no(startS, bad, { throughout: true })
    }
    if (off && off.earliestS <= (fell?.atS ?? Number.POSITIVE_INFINITY))
      return no(off.atS, `${bad} at ${off.atS.toFixed(2)} s`, { earliestS: off.earliestS })
    return yes({ atS: startS, earliestS: startS, value: wanted }, good)
  }

export const supply: Judge = ({ facts, attempt, untilS }) => {
  const lv = facts.drive.channels.get('lv_voltage')
  const limit = facts.limits.lvVoltage.attention ?? 10.5
  const { values, timeS } = samplesIn(lv, attempt.startS, untilS)
  if (!lv) return unseen(`${absence(facts, ['lv_voltage'])} (lv_voltage)`)
  if (values.length === 0) return unseen('lv_voltage has no sample in the attempt')
  const typical = median(values)
  if (typical < limit)
    return no(attempt.startS, `12 V system at ${typical.toFixed(2)} V (median), under ${limit} V`, {
      throughout: true,
    })
  const fallS = attempt.fell?.atS ?? Number.NaN
  const lowAt = values.findIndex((v, i) => v < limit - 2 && Math.abs(timeS[i]! - fallS) < 1)
  if (lowAt >= 0 && attempt.endedBy === 'chain')
    return no(
      timeS[lowAt]!,
      `12 V system fell to ${values[lowAt]!.toFixed(2)} V at ${timeS[lowAt]!.toFixed(2)} s, as the chain fell`,
      { earliestS: timeS[lowAt - 1] ?? timeS[lowAt]! },
    )
  return yes(
    { atS: attempt.startS, earliestS: attempt.startS, value: 1 },
    `12 V system at ${typical.toFixed(2)} V (median), lowest ${extremes(values).low.toFixed(2)} V`,
  )
}

export const key: Judge = ({ facts, signals, attempt }) => {
  if (!signals.key) return unseen(`${absence(facts, ['key_on'])} (key_on)`)
  if (valueAt(signals.key, attempt.endS - 1e-6) !== 1 && valueAt(signals.key, attempt.startS + 1e-6) !== 1)
    return unseen('the key signal is off although the car is awake')
  return attempt.keyOn
    ? yes(attempt.keyOn, `on at ${attempt.keyOn.atS.toFixed(2)} s`)
    : yes(null, 'on already when the attempt begins')
}

export const battery: Judge = ({ facts, signals, attempt, untilS, firstMainClosed, secondMainClosed }) => {
  const reasons: string[] = []
  const contactorsSeen = signals[firstMain(facts)] !== null || firstMainClosed !== null
  const cameFirst = (change: Change): boolean =>
    contactorsSeen
      ? change.atS <= (firstMainClosed?.earliestS ?? Number.POSITIVE_INFINITY)
      : change.atS <= attempt.startS + 1
  const { bms } = signals
  const fellS = attempt.fell?.atS ?? untilS
  if (bms?.track.changes.some(({ value }) => bms.meaning(value) !== null)) {
    const fault = firstWhere(
      bms.track,
      attempt.startS + 1e-9,
      Math.min(untilS, fellS),
      (code) => bms.meaning(code) === 'fault',
    )
    if (fault) {
      const from = Math.max(fault.atS, attempt.startS)
      return no(from, `the battery unit’s state is “${bms.word(fault.value)}” from ${from.toFixed(2)} s`, {
        earliestS: fault.earliestS,
        throughout: cameFirst(fault),
      })
    }
    reasons.push(
      inFault(facts, 'bms', attempt.endS)
        ? 'its state became a fault only when the chain had stopped'
        : 'its state is not a fault',
    )
  }
  const limits = samplesIn(
    facts.drive.channels.get('discharge_limit'),
    secondMainClosed?.atS ?? untilS,
    attempt.endS,
  ).values
  if (secondMainClosed && limits.length > 0) {
    if (limits.every((v) => Math.abs(v) < NO_CURRENT_A))
      return no(secondMainClosed.atS, 'its discharge limit stays at 0 A with the contactors closed')
    reasons.push(`discharge limit ${Math.abs(median(limits)).toFixed(0)} A`)
  }
  const faults = trackOf(facts.drive.channels.get('bms_faults'))
  if (faults && !facts.drive.channels.get('bms_faults')?.labels) {
    const said = (change: Change): string =>
      `its fault word became ${change.value} (${faultWords(facts, 'bms', change.value).join(', ')}) at ${change.atS.toFixed(2)} s`
    const raised = faults.changes.find(
      (c, i) => i > 0 && c.value > 0 && c.atS >= attempt.startS && c.atS <= Math.min(untilS, fellS),
    )
    if (raised && !contactorsSeen && !cameFirst(raised))
      return unseen(`${said(raised)}; whether before or after the chain stopped is not seen`)
    if (raised)
      return no(raised.atS, said(raised), {
        earliestS: raised.earliestS,
        throughout: cameFirst(raised),
      })
    if (valueAt(faults, attempt.startS) === 0) reasons.push('its fault word is 0')
  }
  if (reasons.length === 0)
    return unseen(
      bms
        ? 'bms_state is logged, but the vehicle file gives its codes no words'
        : `${absence(facts, ['bms_state', 'bms_faults'])} (bms_state, bms_faults)`,
    )
  return yes({ atS: attempt.startS, earliestS: attempt.startS, value: 1 }, reasons.join(', '))
}

export const isolation: Judge = ({ facts, attempt, untilS }) => {
  const channel = facts.drive.channels.get('isolation_resistance')
  if (!channel) return unseen(`${absence(facts, ['isolation_resistance'])} (isolation_resistance)`)
  const { values } = samplesIn(channel, attempt.startS, untilS)
  const settled = values.slice(-3)
  const packV = facts.once(voltages).highestV
  if (settled.length < 2) return unseen('fewer than two isolation readings in the attempt')
  if (!(packV > LIVE_V)) return unseen('no pack voltage to set the isolation reading against')
  const limit = facts.vehicle.isolation_min_ohm_per_volt ?? facts.limits.isolation.attention ?? 500
  const perVolt = (median(settled) * 1000) / packV
  return perVolt < limit
    ? no(attempt.startS, `${perVolt.toFixed(0)} Ω/V, under ${limit} Ω/V`, { throughout: true })
    : yes({ atS: attempt.startS, earliestS: attempt.startS, value: 1 }, `${perVolt.toFixed(0)} Ω/V`)
}

export const brake: Judge = (outcome) => {
  const { facts, signals, attempt, untilS, ready, secondMainClosed } = outcome
  const pressure = samplesIn(
    facts.drive.channels.get('brake_pressure') ?? facts.drive.channels.get('brake_pressure_front'),
    attempt.startS,
    untilS,
  )
  const pressed = pressure.values.length > 0 && quantileHigh(pressure.values) > 2
  if (!signals.brakeSwitch && pressure.values.length === 0)
    return unseen(notLogged(outcome.facts, ['brake_switch', 'brake_pressure']))
  const on = signals.brakeSwitch
    ? firstWhere(signals.brakeSwitch, attempt.startS, untilS, (v) => v === 1)
    : pressed
      ? { atS: attempt.startS, earliestS: attempt.startS, value: 1 }
      : null
  if (on) return yes({ ...on, atS: Math.max(on.atS, attempt.startS) }, 'seen pressed')
  if (ready) return unseen('not asked for: drive ready came without it')
  if (!secondMainClosed) return unseen('not reached')
  return no(
    secondMainClosed.atS,
    pressed
      ? 'the brake switch stayed off although brake pressure was there'
      : 'the brake was not seen pressed',
    { throughout: true },
  )
}

const quantileHigh = (values: Float64Array): number =>
  [...values].sort((a, b) => a - b)[Math.floor(values.length * 0.9)]!

export const selector: Judge = ({ facts, signals, attempt, untilS, ready, secondMainClosed }) => {
  if (!signals.selector) return unseen(`${absence(facts, ['selector'])} (selector)`)
  const waitFrom = secondMainClosed?.atS ?? attempt.startS
  const neutral = firstWhere(signals.selector, waitFrom, untilS, (v) => v === 0)
  if (neutral) return yes({ ...neutral, atS: Math.max(neutral.atS, attempt.startS) }, 'in neutral')
  if (ready) return unseen('not asked for: drive ready came in gear')
  if (Number.isNaN(valueAt(signals.selector, untilS))) return unseen('selector has no sample in the attempt')
  return no(waitFrom, 'stayed in gear', { throughout: true })
}

export const pedal: Judge = ({ facts, attempt, untilS, ready, secondMainClosed }) => {
  const [low, high] = facts.vehicle.pedal?.valid_v ?? [0.3, 4.7]
  const waitFrom = secondMainClosed?.atS ?? attempt.startS
  for (const number of [1, 2] as const) {
    const track = facts.drive.channels.get(`pedal_track_${number}`)
    if (track?.unit !== 'V') continue
    const { values } = samplesIn(track, waitFrom, untilS)
    const typical = median(values)
    if (values.length >= FEWEST_FOR_MEDIAN && (typical < low || typical > high) && !ready)
      return no(waitFrom, `track ${number} reads ${typical.toFixed(2)} V, outside ${low} … ${high} V`, {
        throughout: true,
      })
  }
  const position = samplesIn(facts.drive.channels.get('pedal_position'), waitFrom, untilS)
  if (position.values.length === 0) return unseen(`${absence(facts, ['pedal_position'])} (pedal_position)`)
  const released = position.values.some((v) => v < PRESSED_PERCENT)
  if (released) return yes({ atS: waitFrom, earliestS: waitFrom, value: 0 }, 'seen released')
  if (ready) return unseen('not asked for: drive ready came with the pedal pressed')
  return no(waitFrom, `never under ${Math.min(...position.values).toFixed(0)} % travel`, { throughout: true })
}

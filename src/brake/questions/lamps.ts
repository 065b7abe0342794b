import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { PRESSED_BAR, RELEASED_BAR } from '../../car/brake-press.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { spansWhere } from '../../math/spans.ts'
import { quantile } from '../../math/stats.ts'
import { heardTime } from '../../samples/heard-time.ts'
import { heldAt, linearAt, samplePeriod, staleAfter } from '../../samples/on-one-clock.ts'

const GRID_S = 0.1
/** Regeneration may light the lamp from 0.7 m/s² on (UN R13-H 5.2.22.4), so a lit lamp is excused while it pulls. */
const REGEN_NM = -5
const REGEN_SLOWING = 0.7

/** What a lamp must do at a moment: 1 lit, 0 dark, NaN either. */
type Wanted = Float64Array

/**
 * Do the brake and reverse lamps do what brake and selector ask?
 *
 * Model:  brake lamp lit while the brake switch is on or pressure stands 3 bar above its zero, dark while neither is
 *         and the motor does not brake; reverse lamp lit in reverse, dark otherwise. Longest time in disagreement;
 *         times up to the limit are delays of lamp, switch and logs.
 * Reads:  brake_lamp, reverse_lamp, brake_switch (0/1, polarity proved), brake_pressure [bar], torque [N·m], selector.
 * Gives:  `lamp-disagrees`, s.
 * Biased by: logs on different clocks: what is left of their offset counts as delay.
 * Blind:  the bulb itself (the channel is the command), lamps whose polarity nothing fixes.
 * Source: UN R13-H 5.2.22.4 for regeneration; the time: common practice, no source.
 */
export function lamps(facts: Facts): Answer {
  const grid = heardTime(facts.drive.channels, facts.drive.durationS).evenly(GRID_S)
  const both = [
    judge(facts, grid, 'brake', 'brake_lamp', brakeWanted(facts, grid), ['brake_switch', 'brake_pressure']),
    judge(facts, grid, 'reverse', 'reverse_lamp', reverseWanted(facts, grid), ['selector']),
  ]
  return {
    questions: both.map((each) => each.question),
    findings: both.flatMap((each) => (each.found ? [each.found] : [])),
  }
}

function judge(
  facts: Facts,
  grid: Float64Array,
  name: 'brake' | 'reverse',
  id: ChannelId,
  wanted: Wanted | null,
  witnesses: readonly ChannelId[],
): { question: Question; found: Finding | null } {
  const question = `Does the ${name} lamp follow the ${name === 'brake' ? 'brake' : 'selector'}?`
  const lamp = channel(facts, id)
  if (!lamp || !wanted || lamp.polarity === null) {
    const missing: ChannelId[] = [...(lamp ? [] : [id]), ...(wanted ? [] : witnesses)]
    const why =
      missing.length > 0
        ? `not in the log: ${missing.join(', ')}`
        : 'nothing in the log or the name fixes which value of the lamp is lit'
    const toAssess = missing.length > 0 ? `Log ${missing.join(', ')}.` : null
    return { question: notAssessed('brake', question, missing, why, toAssess, 's'), found: null }
  }
  const lit = heldAt(lamp, grid, staleAfter(lamp))
  const [dark, needless] = [1, 0].map((want) =>
    spansWhere(grid, (i) => wanted[i] === want && lit[i] === 1 - want),
  ) as [Span[], Span[]]
  const limit = facts.limits.lampDisagreesS
  const worst = longest([...dark, ...needless])
  const slowest = Math.max(GRID_S, samplePeriod(lamp.timeS) || 0)
  const seconds = worst ? worst[1] - worst[0] : 0
  const plusMinus = slowest
  const found = worst !== null && seconds - plusMinus > limit.attention!
  return {
    question: assessed('brake', question, found, `Longest disagreement ${seconds.toFixed(1)} s.`, {
      value: limit.attention! + plusMinus,
      unit: 's',
    }),
    found: found
      ? finding({
          kind: 'lamp-disagrees',
          subject: { type: 'lamp', name },
          span_s: worst,
          value: seconds,
          unit: 's',
          plusMinus,
          limit,
          headline: `The ${name} lamp was ${dark.includes(worst) ? 'dark when it should be lit' : 'lit without cause'} for ${seconds.toFixed(1)} s.`,
          reason: `${dark.length + needless.length} disagreements in all, short ones included.`,
          next_step:
            name === 'brake'
              ? 'Press the brake with the car standing and watch lamp and switch; check the switch’s adjustment and the lamp’s relay.'
              : 'Select reverse with the car standing and watch the lamp; check selector wiring and the lamp’s relay.',
          channels: [id, ...witnesses.filter((each) => channel(facts, each))],
        })
      : null,
  }
}

function longest(spans: readonly Span[]): Span | null {
  let most: Span | null = null
  for (const span of spans) if (!most || span[1] - span[0] > most[1] - most[0]) most = span
  return most
}

function brakeWanted(facts: Facts, grid: Float64Array): Wanted | null {
  const braking = channel(facts, 'brake_switch')
  const pressed = braking && braking.polarity !== null ? heldAt(braking, grid, staleAfter(braking)) : null
  const bar = pressure(channel(facts, 'brake_pressure') ?? channel(facts, 'brake_pressure_front'), grid)
  if (!pressed && !bar) return null
  const torque = channel(facts, 'torque') ?? channel(facts, 'torque_request')
  const pull = torque ? heldAt(torque, grid, 5) : null
  const speed = channel(facts, 'speed')
  const kmh = speed ? linearAt(speed, grid, 2) : null
  const second = Math.round(1 / GRID_S)
  return grid.map((_, i) => {
    const on = pressed ? pressed[i]! : Number.NaN
    const hard = bar ? bar[i]! : Number.NaN
    if (on === 1 || hard === 1) return on === 0 ? Number.NaN : 1
    if (pull && pull[i]! < REGEN_NM) return Number.NaN
    if (kmh && (kmh[i - second]! - kmh[i]!) / 3.6 > REGEN_SLOWING) return Number.NaN
    return on === 0 || hard === 0 ? 0 : Number.NaN
  })
}

/** 1 pressed, 0 released, NaN between. */
function pressure(channel: Channel | undefined, grid: Float64Array): Float64Array | null {
  if (!channel) return null
  const zero = quantile(channel.values, 0.1)
  return linearAt(channel, grid, 2).map((bar) =>
    bar > zero + PRESSED_BAR ? 1 : bar < zero + RELEASED_BAR ? 0 : Number.NaN,
  )
}

function reverseWanted(facts: Facts, grid: Float64Array): Wanted | null {
  const selector = channel(facts, 'selector')
  if (!selector) return null
  return heldAt(selector, grid, staleAfter(selector)).map((place) =>
    Number.isNaN(place) ? place : place < 0 ? 1 : 0,
  )
}

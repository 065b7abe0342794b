import type { ChannelId } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import type { Span } from '../../../shared/units.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { channel, type Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { insideEach } from '../../math/spans.ts'
import { heldAt, samplePeriod, staleAfter } from '../../samples/on-one-clock.ts'
import { type LampCourse, lampCourse } from '../models/lamp-course.ts'
import { LAMP_GRID_S, type LampWanted, lampWanted } from '../models/lamp-wanted.ts'

type LampName = 'brake' | 'reverse'
/** Flickering in so many presses is no chatter of one contact at its edge; no source. */
const FEWEST_FLICKERS = 2

/**
 * Do the brake and reverse lamps do what brake and selector ask: lit, dark, in time, steadily?
 *
 * Model:  `lampWanted` against `lampCourse`. Longest time in disagreement; times up to the limit are delays of lamp,
 *         switch and logs. Also: it goes out and comes again in two presses or more; it never changes.
 * Reads:  brake_lamp, reverse_lamp, brake_switch (0/1, polarity proved), brake_pressure [bar], torque [N·m], speed [km/h],
 *         selector.
 * Gives:  `lamp-disagrees`, s: stop where every logged witness has the brake pressed and the lamp stays dark, else
 *         attention. Of a lamp that never changes attention: a channel that nothing feeds looks alike.
 * Biased by: logs on different clocks: what is left of their offset counts as delay.
 * Blind:  the bulb itself (the channel is the command); a lamp whose polarity nothing fixes, unless it never changes;
 *         flashing over 5 m/s², which an emergency stop signal does.
 * Source: UN R13-H, 2018 text (brake pedal; 5.2.22.4 for regeneration; 5.2.23); the time: common practice, no source.
 */
export function lamps(facts: Facts): Answer {
  const wanted = facts.once(lampWanted)
  const both = [
    judge(facts, wanted, 'brake', 'brake_lamp', ['brake_switch', 'brake_pressure']),
    judge(facts, wanted, 'reverse', 'reverse_lamp', ['selector']),
  ]
  return {
    questions: both.map((each) => each.question),
    findings: both.flatMap((each) => (each.found ? [each.found] : [])),
  }
}

function judge(
  facts: Facts,
  wanted: LampWanted,
  name: LampName,
  id: ChannelId,
  witnesses: readonly ChannelId[],
): { question: Question; found: Finding | null } {
  const question = `Does the ${name} lamp follow the ${name === 'brake' ? 'brake' : 'selector'}?`
  const lamp = channel(facts, id)
  const want = wanted[name]
  const course =
    lamp && want ? lampCourse(wanted.grid, want, heldAt(lamp, wanted.grid, staleAfter(lamp))) : null
  if (!lamp || !want || !course || (lamp.polarity === null && course.stuckAt === null)) {
    const missing: ChannelId[] = [...(lamp ? [] : [id]), ...(want ? [] : witnesses)]
    const why =
      missing.length > 0
        ? `not in the log: ${missing.join(', ')}`
        : 'nothing in the log or the name fixes which value of the lamp is lit'
    const toAssess = missing.length > 0 ? `Log ${missing.join(', ')}.` : null
    return { question: notAssessed('brake', question, missing, why, toAssess, 's'), found: null }
  }
  const plusMinus = Math.max(LAMP_GRID_S, samplePeriod(lamp.timeS) || 0)
  const limitS = facts.limits.lampDisagreesS.attention!
  const worst = longest([...course.dark, ...course.needless])
  const seconds = worst ? worst[1] - worst[0] : 0
  const said = { facts, wanted, name, course, lamp, witnesses, plusMinus, question }
  const found =
    course.stuckAt !== null && worst
      ? stuck(said, worst)
      : worst !== null && seconds - plusMinus > limitS
        ? disagrees(said, worst)
        : flickers(said)
  const late = course.lateS === null ? '' : ` Usually lit ${course.lateS.toFixed(1)} s after it was asked.`
  return {
    question: assessed(
      'brake',
      question,
      found !== null,
      `Longest disagreement ${seconds.toFixed(1)} s.${late}`,
      { value: limitS + plusMinus, unit: 's' },
    ),
    found,
  }
}

interface Said {
  readonly facts: Facts
  readonly wanted: LampWanted
  readonly name: LampName
  readonly course: LampCourse
  readonly lamp: Channel
  readonly witnesses: readonly ChannelId[]
  readonly plusMinus: number
  readonly question: string
}

function lampFinding(
  { facts, name, lamp, witnesses, plusMinus, question }: Said,
  own: Pick<Finding, 'severity' | 'headline' | 'reason'> & { readonly span: Span; readonly seconds: number },
): Finding {
  return finding({
    kind: 'lamp-disagrees',
    subject: { type: 'lamp', name },
    span_s: own.span,
    value: own.seconds,
    unit: 's',
    plusMinus,
    limit: facts.limits.lampDisagreesS,
    severity: own.severity,
    question,
    headline: own.headline,
    reason: own.reason,
    next_step:
      name === 'brake'
        ? 'Press the brake with the car standing and watch lamp and switch; check the switch’s adjustment and the lamp’s relay.'
        : 'Select reverse with the car standing and watch the lamp; check selector wiring and the lamp’s relay.',
    cautions: name === 'brake' ? [LOCAL_RULES] : [],
    channels: [lamp.id, ...witnesses.filter((each) => channel(facts, each))],
  })
}

function disagrees(said: Said, worst: Span): Finding {
  const { course, name, wanted } = said
  // a pressed pedal that leaves the lamp dark comes first, however short beside a lamp that burns without cause
  const limitS = said.facts.limits.lampDisagreesS.attention! + said.plusMinus
  const pressed = longest(
    course.dark.filter((span) => name === 'brake' && span[1] - span[0] > limitS && byAll(wanted, span)),
  )
  const span = pressed ? longest(course.dark)! : worst
  const seconds = span[1] - span[0]
  const dark = course.dark.includes(span)
  return lampFinding(said, {
    span,
    seconds,
    severity: pressed ? 'stop' : 'attention',
    headline: `The ${name} lamp was ${dark ? 'dark when it should be lit' : 'lit without cause'} for ${seconds.toFixed(1)} s.`,
    reason: `${course.dark.length} times dark though asked, ${course.needless.length} times lit though not, short ones included.${pressed ? ' With the brake pedal pressed the lamp is to be lit whatever the deceleration.' : ''}`,
  })
}

/** Did every logged witness say pressed, for nearly all of that time? */
function byAll({ grid, pressedByAll }: LampWanted, span: Span): boolean {
  const inside = insideEach([span], grid)
  let all = 0
  let pressed = 0
  for (let i = 0; i < grid.length; i++)
    if (inside[i] === 1) {
      all++
      pressed += pressedByAll[i]!
    }
  return pressed > 0.9 * all
}

function stuck(said: Said, worst: Span): Finding {
  const { course, name } = said
  const asked = name === 'brake' ? 'brake was pressed and released' : 'selector went into reverse and out'
  return lampFinding(said, {
    span: worst,
    seconds: worst[1] - worst[0],
    severity: 'attention',
    headline: `The ${name} lamp’s reading stands at ${course.stuckAt} all through, though the ${asked}.`,
    reason: `It was to change ${course.dark.length + course.needless.length} times or more and never did: the lamp’s command or its wire, or a channel that nothing feeds.`,
  })
}

function flickers(said: Said): Finding | null {
  const { course, wanted, name } = said
  const calm = course.flickers.filter(({ span }) => {
    const inside = insideEach([span], wanted.grid)
    return !wanted.mayFlash.some((flash, i) => flash === 1 && inside[i] === 1)
  })
  if (calm.length < FEWEST_FLICKERS) return null
  const worst = calm.reduce((a, b) => (b.darkS > a.darkS ? b : a))
  return lampFinding(said, {
    span: worst.span,
    seconds: worst.darkS,
    severity: 'attention',
    headline: `The ${name} lamp flickers: it went out and came again in ${calm.length} ${name === 'brake' ? 'presses' : 'spells of reverse'}.`,
    reason: `Up to ${Math.max(...calm.map(({ times }) => times))} times in one of them, for up to ${worst.darkS.toFixed(1)} s, while it was asked all along.`,
  })
}

function longest(spans: readonly Span[]): Span | null {
  let most: Span | null = null
  for (const span of spans) if (!most || span[1] - span[0] > most[1] - most[0]) most = span
  return most
}

import type { Channel } from '../../shared/drive.ts'
import type { Span } from '../../shared/units.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { LIVE_V } from '../drive/live-volts.ts'
import type { Facts } from '../facts/facts.ts'
import { heardTime } from '../samples/heard-time.ts'
import { heldAt, linearAt, staleAfter } from '../samples/on-one-clock.ts'
import { contactorsByWord, stateWords } from './unit-state.ts'

export type ContactorPosition = 'open' | 'precharging' | 'closed' | 'unknown'

export interface ContactorSpan {
  /** Half-open, seconds. */
  readonly span_s: Span
  readonly state: ContactorPosition
}

/** When the pack was on the link. Spans are ascending, touch, and cover the whole drive. */
export interface ContactorState {
  readonly spans: readonly ContactorSpan[]
  readonly from: 'contactors' | 'link-voltage' | 'bms-state' | 'nothing'
  /** Spans of one state, ascending. */
  of(state: ContactorPosition): Span[]
}

const GRID_S = 0.05
const STALE_S = 5
/** Link and pack voltage closer than this share of the pack's: one conductor joins them. */
const JOINED = 0.04

/**
 * When were the main contactors open, closed or precharging?
 * By the contactor channels (feedback before the plain one before command; switches of unknown polarity are left
 * out): both mains closed → closed; one main open and the precharge contactor closed → precharging; else open.
 * Without them from `link_voltage` against `pack_voltage` [V]: within 4 % → closed, rising between → precharging;
 * without a link voltage from `bms_state`'s words in the vehicle file. `unknown` where none of these is fresh.
 * Biased: from the link voltage an opening shows only when the link has sunk by 4 %, seconds late.
 */
export function contactorState(facts: Facts): ContactorState {
  const { channels, durationS } = facts.drive
  const grid = heardTime(channels, durationS).evenly(GRID_S)
  const found =
    fromContactors(channels, grid) ??
    fromLink(channels, grid) ??
    fromState(channels.get('bms_state'), facts.vehicle, grid)
  const states = found?.states ?? []
  const spans: ContactorSpan[] = []
  let from = 0
  for (let i = 1; i <= states.length; i++) {
    if (i < states.length && states[i] === states[from]) continue
    spans.push({ span_s: [grid[from]!, i < states.length ? grid[i]! : durationS], state: states[from]! })
    from = i
  }
  if (spans.length === 0) spans.push({ span_s: [0, durationS], state: 'unknown' })
  return {
    spans,
    from: found?.from ?? 'nothing',
    of: (state) => spans.filter((span) => span.state === state).map((span) => span.span_s),
  }
}

type Found = { states: ContactorPosition[]; from: ContactorState['from'] }
type Channels = ReadonlyMap<string, Channel>

function contactor(channels: Channels, name: string, grid: Float64Array): Float64Array | null {
  for (const suffix of ['_feedback', '', '_command']) {
    const channel = channels.get(`contactor_${name}${suffix}`)
    if (channel && channel.polarity !== null) return heldAt(channel, grid, staleAfter(channel))
  }
  return null
}

function fromContactors(channels: Channels, grid: Float64Array): Found | null {
  const positive = contactor(channels, 'positive', grid)
  const negative = contactor(channels, 'negative', grid)
  const precharge = contactor(channels, 'precharge', grid)
  const mains = [positive, negative].filter((main) => main !== null)
  if (mains.length === 0) return null
  const states: ContactorPosition[] = []
  for (let i = 0; i < grid.length; i++) {
    let known = 0
    let closed = 0
    let open = 0
    for (const main of mains) {
      if (!Number.isNaN(main[i]!)) known++
      if (main[i] === 1) closed++
      if (main[i] === 0) open++
    }
    if (known === 0) states.push('unknown')
    else if (closed === mains.length) states.push('closed')
    else if (precharge?.[i] === 1) states.push('precharging')
    else states.push(open > 0 ? 'open' : 'unknown')
  }
  return { states, from: 'contactors' }
}

function fromLink(channels: Channels, grid: Float64Array): Found | null {
  const link = channels.get('link_voltage')
  const pack = channels.get('pack_voltage')
  if (!link || !pack) return null
  const linkV = linearAt(link, grid, STALE_S)
  const packV = linearAt(pack, grid, STALE_S)
  const ahead = Math.round(0.5 / GRID_S)
  const states = Array.from(grid, (_, i): ContactorPosition => {
    if (Number.isNaN(linkV[i]! + packV[i]!) || packV[i]! < LIVE_V) return 'unknown'
    if (linkV[i]! > packV[i]! * (1 - JOINED)) return 'closed'
    const later = linkV[Math.min(grid.length - 1, i + ahead)]!
    return later - linkV[i]! > 0.03 * packV[i]! ? 'precharging' : 'open'
  })
  return { states, from: 'link-voltage' }
}

function fromState(state: Channel | undefined, vehicle: Vehicle, grid: Float64Array): Found | null {
  if (!state) return null
  const codes = heldAt(state, grid, staleAfter(state))
  const word = stateWords(state, vehicle, 'bms')
  const meaning = (code: number): ContactorPosition => contactorsByWord(word(code)) ?? 'unknown'
  const known = new Map<number, ContactorPosition>()
  const states = Array.from(codes, (code): ContactorPosition => {
    if (!known.has(code)) known.set(code, Number.isNaN(code) ? 'unknown' : meaning(code))
    return known.get(code)!
  })
  return states.some((each) => each === 'open' || each === 'closed') ? { states, from: 'bms-state' } : null
}

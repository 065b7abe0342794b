import { catalogueEntry } from '../../../shared/channels.ts'
import type { Channel } from '../../../shared/drive.ts'
import { extremes, median, quantile } from '../../math/stats.ts'
import { heardTime } from '../../samples/heard-time.ts'
import { heldAt, linearAt } from '../../samples/on-one-clock.ts'
import { movingAt } from '../motion.ts'

/** A pack that usually reads less is noise about 0; no source. */
const USUAL_V = 30
/** The link is up from this share of the pack's voltage; no source. */
const UP_SHARE = 0.6
/** It is down under this share; no source. */
const DOWN_SHARE = 0.15
/** A current that flows only through closed contactors; no source. */
const LIVE_A = 10
/** No more than a sensor's zero; no source. */
const NO_CURRENT_A = 5
/** More than a motor's drag; no source. */
const PULLS_NM = 5
/** The least that a charger gives; no source. */
const CHARGES_A = 2.5
/** A pressed pedal: nobody brakes; no source. */
const PRESSED_PERCENT = 15
/** No car coasts down so fast, m/s²; no source. */
const BRAKES_MS2 = 2.2

type Channels = ReadonlyMap<string, Channel>
/** What a switch must read at each moment of the grid: 1, 0, or NaN where the moment fixes nothing. */
type Expected = Float64Array

export interface Polarity {
  readonly polarity: Channel['polarity']
  /** One sentence: which moments or words fix it. */
  readonly why: string
}

const GRID_S = 0.2
/** Evidence shorter than this fixes nothing. */
const PROOF_S = 2
/** Share of the telling moments that must agree. */
const AGREE = 0.8

const YES =
  /\b(closed|close|ok|okay|good|healthy|intact|on|in|inserted|plugged|present|connected|ready|active|pressed|applied|complete|enabled?|made|lock|locked)\b/
const NO =
  /\b(open|opened|fault|faulty|fail|failed|failure|error|trip|tripped|broken|off|out|unplugged|disconnected|released|inactive|disabled|lost|not|unlocked)\b/

/**
 * Works out for each switch (already 0/1) whether 1 means what its id says.
 * Moments that fix it: a moving car has its loops and contactors closed, its key on and its plug out; high voltage at
 * the inverter needs the same loops; a standing car with no link voltage and no current has its contactors open; the
 * brake switch and lamp follow brake pressure, else the pedal; a charge has lock, release and contactor on. Failing
 * these, plain words in the column's own name.
 * Reads `speed` [km/h] or its stand-ins, `link_voltage` and `pack_voltage` [V], `pack_current` [A, any sign],
 * `brake_pressure*` [bar], `torque` [N·m], `pedal_position` [%].
 * Blind where nothing moved and the name says nothing: `null`, and such a switch accuses nobody.
 */
export function switchPolarity(
  channels: Channels,
  durationS: number,
): (channel: Channel, by?: 'words too' | 'by the car alone') => Polarity {
  const grid = heardTime(channels, durationS).evenly(GRID_S)
  const moments = gatherMoments(channels, grid)
  return (channel, by = 'words too') => {
    const expected = expectation(channel.id, moments)
    if (expected) {
      const verdict = compare(heldAt(channel, grid), expected.values)
      if (verdict) return { polarity: verdict, why: expected.why }
    }
    return by === 'words too' ? fromWords(channel) : UNPROVED
  }
}

interface Moments {
  readonly moving: Float64Array
  readonly live: Float64Array
  readonly dead: Float64Array
  readonly braking: Float64Array
  readonly pulling: Float64Array
  readonly charging: Float64Array
}

function gatherMoments(channels: Channels, grid: Float64Array): Moments {
  const moving = movingAt(channels, grid)
  const at = (id: string): Float64Array | null => {
    const channel = channels.get(id)
    return channel ? heldAt(channel, grid, 5) : null
  }
  const link = at('link_voltage')
  const pack = channels.get('pack_voltage')
  const usualV = pack ? median(pack.values) : link ? extremes(link).high : Number.NaN
  // A pack voltage read after open contactors is noise around 0: it says nothing of the link.
  const packV = usualV > USUAL_V ? usualV : Number.NaN
  const current = at('pack_current') ?? at('inverter_dc_current')
  const torque = at('torque') ?? at('torque_request')
  const live = moving.map((moves, i) =>
    link && link[i]! > UP_SHARE * packV
      ? 1
      : moves === 1 && (!link || Math.abs(current?.[i] ?? 0) > LIVE_A)
        ? 1
        : 0,
  )
  const dead = moving.map((moves, i) =>
    moves !== 1 && link && link[i]! < DOWN_SHARE * packV && !(Math.abs(current?.[i] ?? 0) > NO_CURRENT_A)
      ? 1
      : 0,
  )
  const pulling = moving.map((moves, i) =>
    moves === 1 && (torque ? torque[i]! > PULLS_NM : live[i] === 1) ? 1 : 0,
  )
  const charging = chargingAt(channels, grid, moving, current)
  return { moving, live, dead, pulling, charging, braking: brakingAt(channels, grid) }
}

/** 1 while the car stands, and the charger gives, or a current keeps steady for a minute and the voltage climbs. */
function chargingAt(
  channels: Channels,
  grid: Float64Array,
  moving: Float64Array,
  current: Float64Array | null,
): Float64Array {
  const charger = channels.get('charger_current')
  const given = charger ? heldAt(charger, grid, 5) : null
  const pack = channels.get('pack_voltage')
  const volts = pack ? linearAt(pack, grid, 5) : null
  const minute = Math.round(60 / GRID_S)
  const step = Math.round(2 / GRID_S)
  return moving.map((moves, i) => {
    if (moves === 1) return 0
    if (given && Math.abs(given[i]!) > 1) return 1
    if (!volts || !current || i + minute >= grid.length || !(Math.abs(current[i]!) > CHARGES_A)) return 0
    for (let at = i; at <= i + minute; at += step)
      if (!(Math.abs(current[at]! - current[i]!) < 0.1 * Math.abs(current[i]!))) return 0
    return volts[i + minute]! - volts[i]! > 3e-4 * volts[i]! ? 1 : 0
  })
}

/** 1 braking, 0 not, NaN in between: by pressure above its own zero, else not while the pedal is pressed. */
function brakingAt(channels: Channels, grid: Float64Array): Float64Array {
  const pressure = channels.get('brake_pressure') ?? channels.get('brake_pressure_front')
  if (pressure) {
    const zero = quantile(pressure.values, 0.1)
    if (quantile(pressure.values, 0.98) > zero + 4)
      return linearAt(pressure, grid, 2).map((bar) =>
        bar > zero + 4 ? 1 : bar < zero + 0.7 ? 0 : Number.NaN,
      )
  }
  const pedal = channels.get('pedal_position')
  const pressed = pedal ? heldAt(pedal, grid, 2) : null
  const speed = channels.get('speed')
  if (!speed) return grid.map((_, i) => (pressed && pressed[i]! > PRESSED_PERCENT ? 0 : Number.NaN))
  const now = linearAt(speed, grid, 2)
  return now.map((kmh, i) => {
    if (pressed && pressed[i]! > PRESSED_PERCENT) return 0
    const later = now[Math.min(now.length - 1, i + 5)]!
    return (later - kmh) / 3.6 < -BRAKES_MS2 ? 1 : Number.NaN
  })
}

function expectation(id: string, moments: Moments): { values: Expected; why: string } | null {
  const { moving, live, dead, braking, pulling, charging } = moments
  const when = (rule: (index: number) => number): Expected => moving.map((_, i) => rule(i))
  switch (id.replace(/_(command|feedback)$/, '')) {
    case 'interlock_closed':
    case 'inertia_closed':
      return {
        values: when((i) => (moving[i] === 1 && live[i] === 1 ? 1 : Number.NaN)),
        why: 'a moving car has its loops closed',
      }
    case 'key_on':
      return {
        values: when((i) => (moving[i] === 1 && live[i] === 1 ? 1 : Number.NaN)),
        why: 'a car moves under its own power with its key on',
      }
    case 'contactor_positive':
    case 'contactor_negative':
      return {
        values: when((i) => (moving[i] === 1 && live[i] === 1 ? 1 : dead[i] === 1 ? 0 : Number.NaN)),
        why: 'a moving car has its contactors closed, one without link voltage has them open',
      }
    case 'contactor_precharge':
      return {
        values: when((i) => (dead[i] === 1 ? 0 : Number.NaN)),
        why: 'a car without link voltage is not being precharged',
      }
    case 'charge_plug':
      return {
        values: when((i) => (moving[i] === 1 ? 0 : charging[i] === 1 ? 1 : Number.NaN)),
        why: 'a moving car has its plug out, a charging one has it in',
      }
    case 'charge_lock':
    case 'charge_enable':
    case 'contactor_charge':
      return {
        values: when((i) => (moving[i] === 1 ? 0 : charging[i] === 1 ? 1 : Number.NaN)),
        why: 'a charging car has its plug locked, charging enabled and its charge contactor closed',
      }
    case 'drive_ready':
      return { values: when((i) => (pulling[i] === 1 ? 1 : Number.NaN)), why: 'a car that pulls is ready' }
    case 'brake_switch':
    case 'brake_lamp':
      return { values: braking, why: 'it follows brake pressure or deceleration' }
    case 'reverse_lamp':
    case 'abs_active':
    case 'traction_active':
      return {
        values: when((i) => (moving[i] === 1 ? 0 : Number.NaN)),
        why: 'it is off for most of a drive',
      }
    default:
      return null
  }
}

/** Agreement averaged over the two expected values, so that a long rest does not outvote a short press. */
function compare(seen: Float64Array, expected: Expected): Channel['polarity'] {
  const shares: number[] = []
  for (const level of [0, 1]) {
    let total = 0
    let agreeing = 0
    for (let i = 0; i < seen.length; i++) {
      if (expected[i] !== level || Number.isNaN(seen[i]!)) continue
      total++
      if (seen[i] === level) agreeing++
    }
    if (total * GRID_S >= PROOF_S) shares.push(agreeing / total)
  }
  if (shares.length === 0) return null
  const agreement = shares.reduce((sum, share) => sum + share, 0) / shares.length
  return agreement >= AGREE ? 'as-named' : agreement <= 1 - AGREE ? 'inverted' : null
}

/** `HvilOpen` → "hvil open"; the program's own ids count as words where a person gave them as the column's name. */
function fromWords(channel: Channel): Polarity {
  const words = channel.from
    .replace(/([a-z0-9])([A-Z])/g, '$1 $2')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, ' ')
  const yes = YES.test(words)
  const no = NO.test(words)
  if (yes && !no) return { polarity: 'as-named', why: `its name says so: "${channel.from}"` }
  if (no && !yes) return { polarity: 'inverted', why: `its name says the opposite: "${channel.from}"` }
  return UNPROVED
}

const UNPROVED: Polarity = { polarity: null, why: 'nothing in the log or the name fixes what 1 means' }

/** Is it a switch whose polarity can be judged at all? */
export function isSwitch(channel: Channel): boolean {
  return catalogueEntry(channel.id)?.kind === 'switch' && !channel.id.startsWith('balancing')
}

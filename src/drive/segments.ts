import type { Channel, Segment, SegmentType } from '../../shared/drive.ts'
import { type HeardTime, heardTime } from '../samples/heard-time.ts'
import { heldAt, samplePeriod } from '../samples/on-one-clock.ts'
import { movingAt } from './motion.ts'

const GRID_S = 0.1
/** A log silent for longer than this, or than so many of its own periods, says nothing about the car. */
const SILENT_S = 5
const SILENT_PERIODS = 3
/** Shorter flickers between two states belong to their neighbours. */
const SHORTEST_S = 0.2
/** Without a ready or key channel a stop longer than this ends the drive. */
const LONG_STOP_S = 120
/** Mains are there from here on, V, and so old a reading still counts, s. Common practice, no source. */
const MAINS_V = 50
const MAINS_OLD_S = 60
/** A plugged-in car with more than this flowing is charging; less may be the sensor's zero. */
const CHARGING_A = 2.5

/**
 * Cuts the drive into stretches on a grid of 0.1 s:
 *
 *     key      ____----------------____      plugged in and drawing        → charging
 *     ready    ________------------____      ready, or moving since key-on → driving
 *     speed    ___________/\_/\________      key on, not ready yet         → starting
 *     segments park|start| driving |park     else                          → parked; nothing logged → unknown
 *
 * Reads `key_on`, `drive_ready`, `charge_plug` (0/1, right way round; else `mains_voltage`), speed or its stand-ins,
 * main contactors, `pack_current` and `charger_current` [A, any sign]. Without `drive_ready` a drive begins with the
 * first movement and lasts until key-off; without a key too, as long as the positive contactor is closed; without that,
 * until a stop of over two minutes.
 * `cut` is `start` or `end` where the log opens or closes inside anything but `parked`.
 */
export function findSegments(channels: ReadonlyMap<string, Channel>, durationS: number): Segment[] {
  const heard = heardTime(channels, durationS)
  const grid = heard.evenly(GRID_S)
  const types = smooth(stateOnGrid(channels, grid, heard))
  const key = switchAt(channels, 'key_on', grid)
  const segments: Segment[] = []
  let keyCycle = 0
  let from = 0
  for (let i = 1; i <= grid.length; i++) {
    if (i < grid.length && types[i] === types[from]) continue
    if (key)
      for (let at = from; at < i; at++) if (key[at] === 1 && (at === 0 || key[at - 1] !== 1)) keyCycle++
    const type = types[from]!
    const open = type !== 'parked' && type !== 'unknown'
    const cut = open && from === 0 ? 'start' : open && i === grid.length ? 'end' : 'none'
    segments.push({
      span_s: [grid[from]!, i < grid.length ? grid[i]! : durationS],
      type,
      key_cycle: keyCycle,
      cut,
    })
    from = i
  }
  return segments
}

/** A switch on the grid; null where it is not logged or its polarity is unknown. */
function switchAt(
  channels: ReadonlyMap<string, Channel>,
  id: string,
  grid: Float64Array,
): Float64Array | null {
  const channel = channels.get(id)
  return channel && channel.polarity !== null ? heldAt(channel, grid) : null
}

/** Mains at the charger stand in for a plug that is not logged. */
function mainsAt(channels: ReadonlyMap<string, Channel>, grid: Float64Array): Float64Array | null {
  const mains = channels.get('mains_voltage')
  return mains ? heldAt(mains, grid, MAINS_OLD_S).map((volt) => (volt > MAINS_V ? 1 : 0)) : null
}

function stateOnGrid(
  channels: ReadonlyMap<string, Channel>,
  grid: Float64Array,
  heardOf: HeardTime,
): SegmentType[] {
  const moving = movingAt(channels, grid)
  const key = switchAt(channels, 'key_on', grid)
  const ready = switchAt(channels, 'drive_ready', grid)
  const plug = switchAt(channels, 'charge_plug', grid) ?? mainsAt(channels, grid)
  const current = channels.get('pack_current')
  const silentS = silenceOf(channels)
  const amperes = current ? heldAt(current, grid, silentS) : null
  const charger = channels.get('charger_current')
  const charging = charger ? heldAt(charger, grid, silentS) : null
  const contactor = switchAt(channels, 'contactor_positive', grid)
  const heard = heardAt(channels, grid, heardOf, silentS)
  const drove = ready ? null : drivingFromMotion(moving, key ?? contactor)
  const types: SegmentType[] = []
  for (let i = 0; i < grid.length; i++) {
    const draws = amperes ? Math.abs(amperes[i]!) > CHARGING_A : true
    const moves = moving[i] === 1
    if (heard[i] === 0) types.push('unknown')
    else if (!moves && ((plug?.[i] === 1 && draws) || Math.abs(charging?.[i] ?? 0) > CHARGING_A))
      types.push('charging')
    else if (moves || ready?.[i] === 1 || drove?.[i] === 1) types.push('driving')
    else if (key?.[i] === 1 || (!key && contactor?.[i] === 1)) types.push('starting')
    else if (key || plug || ready || contactor || !Number.isNaN(moving[i]!)) types.push('parked')
    else types.push('unknown')
  }
  return types
}

/** Silence of this log, s: one that writes a row every ten seconds is not silent between them. */
function silenceOf(channels: ReadonlyMap<string, Channel>): number {
  let fastestS = Number.POSITIVE_INFINITY
  for (const timeS of new Set([...channels.values()].map((each) => each.timeS))) {
    const periodS = samplePeriod(timeS)
    if (periodS > 0) fastestS = Math.min(fastestS, periodS)
  }
  return Number.isFinite(fastestS) ? Math.max(SILENT_S, SILENT_PERIODS * fastestS) : SILENT_S
}

/** 1 where any channel had a sample within the last few seconds. */
function heardAt(
  channels: ReadonlyMap<string, Channel>,
  grid: Float64Array,
  heardOf: HeardTime,
  silentS: number,
): Uint8Array {
  const heard = new Uint8Array(grid.length)
  const done = new Set<Float64Array>()
  for (const { timeS } of channels.values()) {
    if (done.has(timeS)) continue
    done.add(timeS)
    const atS = heardOf.heardAll(timeS)
    let from = 0
    for (let i = 0; i < atS.length; i++) {
      // what an earlier sample has told already: nearly all of them
      if ((atS[i]! + silentS) / GRID_S <= from) continue
      const first = Math.max(from, Math.floor(atS[i]! / GRID_S))
      const end = Math.min(grid.length, Math.ceil((atS[i]! + silentS) / GRID_S))
      if (end > first) heard.fill(1, first, end)
      from = Math.max(from, end)
    }
  }
  return heard
}

/** 1 from the first movement of a key cycle to its end, or across stops of up to two minutes without a key. */
function drivingFromMotion(moving: Float64Array, key: Float64Array | null): Uint8Array {
  const drove = new Uint8Array(moving.length)
  let last = Number.NEGATIVE_INFINITY
  for (let i = 0; i < moving.length; i++) {
    if (moving[i] === 1) {
      if (!key && (i - last) * GRID_S <= LONG_STOP_S) drove.fill(1, Math.max(0, last), i)
      last = i
    }
    if (key && key[i] !== 1) last = Number.NEGATIVE_INFINITY
    if (moving[i] === 1 || (key && Number.isFinite(last))) drove[i] = 1
  }
  return drove
}

/** Gives flickers too short to mean anything to the state before them. */
function smooth(types: readonly SegmentType[]): SegmentType[] {
  const shortest = Math.round(SHORTEST_S / GRID_S)
  const out = [...types]
  let from = 0
  for (let i = 1; i <= out.length; i++) {
    if (i < out.length && out[i] === out[from]) continue
    if (i - from < shortest && from > 0 && i < out.length) out.fill(out[from - 1]!, from, i)
    from = i
  }
  return out
}

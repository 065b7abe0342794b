import type { Channel } from '../../shared/drive.ts'
import { heldAt, staleAfter } from '../samples/on-one-clock.ts'

type Channels = ReadonlyMap<string, Channel>

/** Above this the car moves: WLTP counts a stop as under 1 km/h (UN GTR 15), doubled for noisy wheel sensors. */
export const MOVING_KMH = 2
/**
 * Below this it stands: under WLTP's 1 km/h, over what wheel and motor sensors read of a car at rest. Between the two
 * nothing is decided: a car that has stopped moving may still roll. Common practice, no source.
 */
export const STANDING_KMH = 0.7
/** Faster than any rolling by hand: here speed, motor and torque tell what they are. Common practice, no source. */
export const UNDER_WAY_KMH = 5
/** Motor speed that no conversion's gearing turns into less than walking pace. */
const MOVING_RPM = 150

/**
 * Does the car move at each moment? 1 moves, 0 stands, NaN cannot be told (nothing logged for long).
 * Reads, first that is there: speed [km/h], wheel_speed.* [km/h], motor_speed [rpm]; either sign.
 * Blind to a rolling car whose motor is declutched when motor speed alone is logged.
 */
export function movingAt(channels: Channels, atS: ArrayLike<number>): Float64Array {
  const shown = motionChannel(channels)
  if (!shown) return new Float64Array(atS.length).fill(Number.NaN)
  return heldAt(shown.channel, atS, staleAfter(shown.channel)).map((value) =>
    Number.isFinite(value) ? (Math.abs(value) > shown.movingAbove ? 1 : 0) : Number.NaN,
  )
}

/** The channel that shows the car's motion, and above which value it moves; null where nothing does. */
export function motionChannel(
  channels: Channels,
): { readonly channel: Channel; readonly movingAbove: number } | null {
  for (const id of ['speed', 'wheel_speed.1', 'wheel_speed.2', 'wheel_speed.3', 'wheel_speed.4']) {
    const channel = channels.get(id)
    if (channel) return { channel, movingAbove: MOVING_KMH }
  }
  const motor = channels.get('motor_speed')
  return motor ? { channel: motor, movingAbove: MOVING_RPM } : null
}

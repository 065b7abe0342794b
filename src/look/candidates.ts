import type { ByteOrder } from '../importers/frames/signal.ts'
import type { Content, MessageLook } from './look-message.ts'
import { numbersOf } from './look-message.ts'
import type { Place } from './number-fields.ts'
import { rawValues } from './raw-values.ts'

/** A number of the bus that could be a channel. */
export interface Candidate {
  readonly look: MessageLook
  readonly content: Content
  readonly place: Place
  readonly timeS: Float64Array
  readonly raw: Float64Array
  /** Different values, counted up to 64. */
  readonly distinct: number
  /** Candidates of one spot read the same bits in different ways; only one of them can be right. */
  readonly spot: string
}

const MANY = 64

/** Every number of two bits or more that moved, in order of identifier, selector value and place. */
export function candidatesOf(looks: readonly MessageLook[], usual: ByteOrder): Candidate[] {
  return looks.flatMap((look) =>
    look.contents.flatMap((content) =>
      numbersOf(content, usual).flatMap((place) => {
        if (place.length < 2) return []
        const spot = `${look.message.key}/${content.value}/${place.startBit}`
        return readings(place).flatMap((reading) => {
          const raw = rawValues(content.message, reading)
          const distinct = differentValues(raw)
          return distinct < 2
            ? []
            : [{ look, content, place: reading, timeS: content.message.timeS, raw, distinct, spot }]
        })
      }),
    ),
  )
}

/** The place as found; where a byte that never moves was taken in, also without it. */
function readings(place: Place): Place[] {
  if (place.order !== 'others' || place.length !== 16) return [place]
  const low = place.byteOrder === 'little' ? place.startBit : place.startBit + 1
  return [
    place,
    { ...place, startBit: low, length: 8, byteOrder: 'little', order: 'one byte', signed: false },
  ]
}

function differentValues(raw: Float64Array): number {
  const seen = new Set<number>()
  for (const value of raw) {
    seen.add(value)
    if (seen.size >= MANY) break
  }
  return seen.size
}

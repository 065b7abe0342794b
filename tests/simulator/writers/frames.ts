import type { Box } from '../boxes.ts'
import type { Samples } from '../measure.ts'
import { ownTime } from './columns.ts'
import type { Message, Signal } from './signals.ts'

/** One frame on the bus, stamped in the box's own clock. */
export interface Frame {
  readonly ownS: number
  readonly identifier: number
  readonly extended: boolean
  readonly data: Uint8Array
}

/**
 * All frames of a drive in order of time. A message goes out when any of its channels has a new sample; messages of
 * one moment follow each other by 0.25 ms.
 */
export function framesOf(messages: readonly Message[], box: Box): Frame[] {
  const frames: Frame[] = []
  messages.forEach((message, slot) => {
    const stamps = new Set<number>()
    for (const samples of message.samples) for (const t of samples.timeS) stamps.add(t)
    const rising = [...stamps].sort((a, b) => a - b)
    const at = new Int32Array(message.samples.length).fill(-1)
    for (const t of rising) {
      const data = new Uint8Array(message.bytes)
      if (message.selector !== null) data[0] = message.selector
      message.samples.forEach((samples, s) => {
        while (at[s]! + 1 < samples.timeS.length && samples.timeS[at[s]! + 1]! <= t) at[s]!++
        if (at[s]! >= 0) put(data, message.signals[s]!, raw(samples, at[s]!, message.signals[s]!))
      })
      frames.push({
        ownS: ownTime(box, t + 0.00025 * (slot % 40)),
        identifier: message.identifier,
        extended: message.extended,
        data,
      })
    }
  })
  return frames.sort((a, b) => a.ownS - b.ownS)
}

function raw(samples: Samples, at: number, signal: Signal): number {
  const low = signal.signed ? -(2 ** (signal.length - 1)) : 0
  const high = signal.signed ? 2 ** (signal.length - 1) - 1 : 2 ** signal.length - 1
  return Math.max(low, Math.min(high, Math.round((samples.values[at]! - signal.offset) / signal.factor)))
}

/** Writes bit by bit: little from `start_bit` upwards, big from it down through each byte to the next byte's bit 7. */
export function put(data: Uint8Array, signal: Signal, value: number): void {
  const pattern = value < 0 ? value + 2 ** signal.length : value
  let number = signal.start_bit
  for (let i = 0; i < signal.length; i++) {
    const bit = signal.byte_order === 'little' ? i : signal.length - 1 - i
    if (Math.floor(pattern / 2 ** bit) % 2 === 1) data[number >> 3]! |= 1 << (number & 7)
    number = signal.byte_order === 'little' ? number + 1 : number % 8 === 0 ? number + 15 : number - 1
  }
}

import type { Message } from '../../../src/look/captured.ts'
import { CRC8_POLYNOMIALS, crcTable } from '../../../src/look/checksums.ts'
import { lookAtMessage } from '../../../src/look/look-message.ts'

/**
 * 200 generated messages, with and without a counter, a checksum (XOR, sum, negative sum, CRC-8 of the published
 * polynomials, any start value) and a selector: how many are found with the right place and kind, and how many where there
 * is none.
 */
export function generatedMessages(): string[] {
  let seed = 12345
  const lines: string[] = []
  const rnd = () => {
    seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0
    return seed / 2 ** 32
  }
  const whole = (n: number) => Math.floor(rnd() * n)
  const tally: Record<string, [number, number]> = {}
  const count = (what: string, ok: boolean) => {
    const t = (tally[what] ??= [0, 0])
    t[1]++
    if (ok) t[0]++
  }
  let falseCounter = 0,
    falseCheck = 0,
    falseMux = 0,
    noCounter = 0,
    noCheck = 0,
    noMux = 0
  for (let m = 0; m < 200; m++) {
    const rows = 600,
      bytes = 8
    const data = new Uint8Array(rows * 8)
    const hasCounter = rnd() < 0.5,
      hasCheck = rnd() < 0.5,
      hasMux = rnd() < 0.3
    const checkByte = rnd() < 0.7 ? 7 : 0
    const kind = whole(4) // xor sum neg crc
    const poly = CRC8_POLYNOMIALS[whole(CRC8_POLYNOMIALS.length)]!,
      refl = rnd() < 0.3,
      start = whole(256)
    const steps = crcTable(poly, refl)
    const free = [0, 1, 2, 3, 4, 5, 6, 7].filter((b) => !(hasCheck && b === checkByte))
    const counterByte = free[free.length - 1]!,
      counterShift = rnd() < 0.5 ? 0 : 4,
      counterTop = rnd() < 0.2 ? 15 : 16
    const muxByte = free[0]!,
      muxes = 3 + whole(8)
    const numbers = free.filter((b) => !(hasCounter && b === counterByte) && !(hasMux && b === muxByte))
    const phase = Array.from({ length: 64 }, () => rnd() * 10),
      speed = Array.from({ length: 64 }, () => 0.005 + rnd() * 0.05)
    for (let i = 0; i < rows; i++) {
      const at = i * 8,
        turn = hasMux ? i % muxes : 0
      for (let n = 0; n + 1 < numbers.length; n += 2) {
        const k = turn * 4 + n / 2
        const v = Math.round(
          2000 + 300 * (k % 7) + 1500 * Math.sin(phase[k % 64]! + speed[k % 64]! * i) + 2 * rnd(),
        )
        data[at + numbers[n]!] = v & 255
        data[at + numbers[n + 1]!] = v >> 8
      }
      if (hasMux) data[at + muxByte] = turn
      if (hasCounter) data[at + counterByte] = (i % counterTop) << counterShift
      if (hasCheck) {
        let x = start,
          s = start,
          c = start
        for (let b = 0; b < 8; b++)
          if (b !== checkByte) {
            x ^= data[at + b]!
            s += data[at + b]!
            c = steps[c ^ data[at + b]!]!
          }
        data[at + checkByte] = kind === 0 ? x : kind === 1 ? s & 255 : kind === 2 ? -s & 255 : c
      }
    }
    const message: Message = {
      key: 0x100,
      count: rows,
      timeS: Float64Array.from({ length: rows }, (_, i) => i * 0.02),
      data,
      stride: 8,
      bytes,
      least: bytes,
    }
    const look = lookAtMessage(message)
    if (hasCounter)
      count(
        'counter',
        look.counters.some(
          (c) =>
            c.startBit === 8 * counterByte + counterShift && c.length === 4 && c.highest === counterTop - 1,
        ),
      )
    else {
      noCounter++
      if (look.counters.length) falseCounter++
    }
    const want =
      kind === 0
        ? 'XOR'
        : kind === 1
          ? 'sum'
          : kind === 2
            ? 'negative sum'
            : `CRC-8 0x${poly.toString(16).toUpperCase().padStart(2, '0')}${refl ? ', lowest bit first' : ''}`
    if (hasCheck)
      count(
        kind === 3 ? 'CRC-8' : 'sum or XOR',
        look.checksum?.byte === checkByte && look.checksum.kind === want,
      )
    else {
      noCheck++
      if (look.checksum) falseCheck++
    }
    if (hasMux)
      count(
        'selector',
        look.selector !== null &&
          look.selector.startBit === 8 * muxByte &&
          look.selector.values.length === muxes,
      )
    else {
      noMux++
      if (look.selector) falseMux++
    }
  }
  for (const [what, [right, all]] of Object.entries(tally))
    lines.push(
      `${what}: ${right} of ${all} found with right place and kind (${((100 * right) / all).toFixed(1)} %)`,
    )
  lines.push(
    `where there is none: counters ${falseCounter} of ${noCounter}, checksums ${falseCheck} of ${noCheck}, selectors ${falseMux} of ${noMux}`,
  )

  return lines
}

/** A sequence of numbers in [0, 1) from a seed (mulberry32, public domain), so that every failure can be played again. */
export function luck(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = Math.imul(state ^ (state >>> 15), 1 | state)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32
  }
}

const WILD = [
  '',
  '0',
  '-0',
  '1e9',
  '999999999',
  '1e308',
  '-1e-320',
  'NaN',
  'Infinity',
  '0x1fffffff',
  '\u202e',
  '"',
  ',',
]

/** One text changed as people and programs change it: fields, lines, numbers, quotes, cuts. */
export function mutateText(text: string, random: () => number, most = 4096): string {
  const pick = <T>(from: readonly T[]): T => from[Math.floor(random() * from.length)]!
  let out = text
  for (let n = 1 + Math.floor(random() * 4); n > 0; n--) {
    const at = Math.floor(random() * out.length)
    const lines = out.split('\n')
    const line = Math.floor(random() * lines.length)
    const numbers = [...out.matchAll(/-?\d+(?:\.\d+)?/g)]
    const number = numbers.length > 0 ? pick(numbers) : null
    switch (Math.floor(random() * 8)) {
      case 0:
        out = out.slice(0, at)
        break
      case 1:
        lines.splice(line, 1)
        out = lines.join('\n')
        break
      case 2:
        lines.splice(line, 0, lines[line] ?? '')
        out = lines.join('\n')
        break
      case 3:
        lines.push(...lines.splice(1, Math.floor(lines.length / 2)))
        out = lines.join('\n')
        break
      case 4:
      case 5:
        if (number) out = out.slice(0, number.index) + pick(WILD) + out.slice(number.index + number[0].length)
        break
      case 6:
        out = out.slice(0, at) + pick([...WILD, '[', '{', '}', ']', '\n', '\0', ';']) + out.slice(at + 1)
        break
      default:
        out =
          out.slice(0, at) + out.slice(at, at + 40).repeat(1 + Math.floor(random() * 5)) + out.slice(at + 40)
    }
  }
  return out.slice(0, most)
}

/** Bytes flipped, cut, doubled, and lengths set to their extremes. */
export function mutateBytes(bytes: Uint8Array, random: () => number): Uint8Array {
  let out = Uint8Array.from(bytes)
  for (let n = 1 + Math.floor(random() * 6); n > 0 && out.length > 4; n--) {
    const at = Math.floor(random() * (out.length - 4))
    const kind = Math.floor(random() * 4)
    if (kind === 0) out[at] = Math.floor(random() * 256)
    else if (kind === 1) out.set([0xff, 0xff, 0xff, random() < 0.5 ? 0x7f : 0xff], at)
    else if (kind === 2) out = out.slice(0, at + 1)
    else out = Uint8Array.from([...out.subarray(0, at), ...out.subarray(at, at + 16), ...out.subarray(at)])
  }
  return out.subarray(0, 4096)
}

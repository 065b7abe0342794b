import type { Channel } from '../../../shared/drive.ts'
import { heldAt } from '../../samples/on-one-clock.ts'
import { movingAt } from '../motion.ts'

/** It gathers speed, km/h; no source. */
const GAINS_KMH = 0.3
/** While torque pulls back, N·m; no source. */
const PULLS_BACK_NM = 5

const WORDS: readonly [RegExp, number][] = [
  [/^(d\d?|b|f|s|l|drive|forward|fwd|vor)/i, 1],
  [/^(r|reverse|rev|back)/i, -1],
  [/^(n|p|neutral|park|off)/i, 0],
]
/** A code's time on the move has to reach this before motion gives it a meaning. */
const PROOF_S = 2
/** Torque up to this may be noise of a motor that does nothing, N·m. */
const ROLLING_NM = 5

export interface NormalSelector {
  readonly channel: Channel
  /** In words what each code was taken for; null where −1, 0 and 1 were logged as such. */
  readonly conversion: string | null
}

/**
 * The selector as −1 reverse, 0 neutral, 1 forward.
 * Text is read by its first letter (P and N neutral, R reverse, D forward). Codes −1/0/1 stand unless the car moved
 * against them. Other codes: the one in which the motor turned forward for longest is forward, one in which it turned
 * backward (or, where the motor's speed has no sign, torque went negative while speed rose) is reverse, the one in
 * which the car never moved but stood longest is neutral; a code that nothing explains becomes NaN.
 * Where torque is logged only moments with torque count. Blind to a gear tried only at standstill.
 */
export function normalSelector(channel: Channel, channels: ReadonlyMap<string, Channel>): NormalSelector {
  const { labels, values, timeS } = channel
  if (labels) {
    const meaning = labels.map((label) => WORDS.find(([rule]) => rule.test(label.trim()))?.[1] ?? Number.NaN)
    return {
      channel: { ...channel, labels: null, values: values.map((value) => meaning[value] ?? Number.NaN) },
      conversion: labels.map((label, at) => `${label} → ${meaning[at]}`).join(', '),
    }
  }
  const seen = new Map<number, { forward: number; backward: number; still: number }>()
  const moving = movingAt(channels, timeS)
  const way = travelWay(channels, timeS)
  const torque = channels.get('torque') ?? channels.get('torque_request')
  const pull = torque ? heldAt(torque, timeS, 5) : null
  for (let i = 0; i < values.length; i++) {
    if (Number.isNaN(values[i]!)) continue
    const tally = seen.get(values[i]!) ?? { forward: 0, backward: 0, still: 0 }
    seen.set(values[i]!, tally)
    const dt = Math.min(1, i + 1 < timeS.length ? timeS[i + 1]! - timeS[i]! : 0)
    if (moving[i] !== 1) tally.still += dt
    // A car that only rolls tells nothing of its gear: it may be in neutral.
    else if (pull && Math.abs(pull[i]!) <= ROLLING_NM) continue
    else if (way[i]! > 0) tally.forward += dt
    else if (way[i]! < 0) tally.backward += dt
  }
  const codes = [...seen.keys()]
  const forward = longest(codes, (code) => seen.get(code)!.forward)
  const plain = codes.every((code) => code === -1 || code === 0 || code === 1)
  if (plain && (forward === null || forward === 1)) return { channel, conversion: null }
  if (forward === null) {
    const zero = values.map((value) => (value === 0 ? 0 : Number.NaN))
    return {
      channel: { ...channel, values: zero },
      conversion: '0 taken for neutral; the car never moved, so the other codes stay unknown',
    }
  }
  const meaning = new Map<number, number>([[forward, 1]])
  for (const code of codes) {
    const { backward, forward: ahead } = seen.get(code)!
    if (code !== forward && backward > ahead && backward > PROOF_S) meaning.set(code, -1)
    else if (code !== forward && ahead > PROOF_S) meaning.set(code, 1)
  }
  const neutral = longest(
    codes.filter((code) => !meaning.has(code)),
    (code) => seen.get(code)!.still,
  )
  if (neutral !== null) meaning.set(neutral, 0)
  return {
    channel: { ...channel, values: values.map((value) => meaning.get(value) ?? Number.NaN) },
    conversion: codes.map((code) => `${code} → ${meaning.get(code) ?? 'unknown'}`).join(', '),
  }
}

/** Sign of travel at each moment: motor speed's or speed's where they have one, else torque against acceleration. */
function travelWay(channels: ReadonlyMap<string, Channel>, timeS: Float64Array): Float64Array {
  for (const [id, least] of [
    ['motor_speed', 150],
    ['speed', 2],
  ] as const) {
    const signed = channels.get(id)
    if (signed?.values.some((value) => value < -least)) return heldAt(signed, timeS, 5).map(Math.sign)
  }
  const speed = channels.get('speed') ?? channels.get('motor_speed')
  if (!speed) return new Float64Array(timeS.length).fill(Number.NaN)
  const torque = channels.get('torque') ?? channels.get('torque_request')
  if (!torque) return new Float64Array(timeS.length).fill(1)
  const now = heldAt(speed, timeS, 5)
  const later = heldAt(
    speed,
    timeS.map((at) => at + 0.5),
    5,
  )
  const pull = heldAt(torque, timeS, 5)
  return now.map((value, i) => (later[i]! - value > GAINS_KMH && pull[i]! < -PULLS_BACK_NM ? -1 : 1))
}

function longest(codes: readonly number[], seconds: (code: number) => number): number | null {
  let best: number | null = null
  let most = PROOF_S
  for (const code of codes)
    if (seconds(code) > most) {
      most = seconds(code)
      best = code
    }
  return best
}

import { laggedBy } from '../../math/follow-delay.ts'
import { LAG_NONE_S } from './press-response.ts'
import type { RegenRows } from './regen-rows.ts'
import { ramp, type SlowingMap } from './slowing-map.ts'

/** Working columns that are kept: of eleven parameters moved in turn, three change what speed leaves of the torque. */
const KEPT = 4

/**
 * `slowingNm` of a map at every row of a fit, seen through a cap of constant power and a lag of the torque. A fit asks
 * for it hundreds of times with one parameter moved: what the others leave as it was (each part's fade over the rows'
 * speeds, the lag's decay over their spacing) is kept.
 */
export class SlowingRows {
  readonly #rows: RegenRows
  readonly #ramps = new Columns()
  readonly #decays = new Columns()
  /** Seconds since the row before; 0 where a run begins. */
  readonly #dtS: Float64Array

  constructor(rows: RegenRows) {
    this.#rows = rows
    this.#dtS = new Float64Array(rows.nm.length)
    for (let i = 1; i < this.#dtS.length; i++)
      if (rows.run[i] === rows.run[i - 1]) this.#dtS[i] = rows.timeS[i]! - rows.timeS[i - 1]!
  }

  /** @param press as it arrives at each row; @param powerNmKmh null where nothing caps */
  predict(
    map: SlowingMap,
    press: Float64Array,
    powerNmKmh: number | null,
    lagS: number,
    out: Float64Array,
  ): void {
    const { form, start, full, brakeNm, liftNm } = map
    const { kmh } = this.#rows
    const fade = this.#faded(map.fade[0], map.fade[1])
    const liftFade = liftNm === 0 ? fade : this.#faded(map.liftFade[0], map.liftFade[1])
    const stepAt = map.step ? map.step.at : Number.POSITIVE_INFINITY
    brakeParts(press, start, full, brakeNm, stepAt, map.step ? map.step.nm : 0, fade, out)
    if (form === 'replaces') orLift(press, start, liftNm, liftFade, out)
    else if (liftNm !== 0 && form === 'sum') plusLift(liftNm, liftFade, out)
    else if (form === 'larger') atLeastLift(liftNm, liftFade, out)
    if (powerNmKmh !== null) underPower(powerNmKmh, kmh, out)
    if (lagS > LAG_NONE_S) this.#follow(lagS, out)
  }

  /** The torque trails what is asked by a first-order lag; each run begins where its torque was. */
  #follow(lagS: number, out: Float64Array): void {
    const { nm, run } = this.#rows
    const dtS = this.#dtS
    const decay = this.#decays.of(lagS, 0, dtS.length, (column) => decaysOver(dtS, lagS, column))
    follow(nm, run, dtS, lagS, decay, out)
  }

  #faded(from: number, to: number): Float64Array {
    const { kmh } = this.#rows
    return this.#ramps.of(from, to, kmh.length, (column) => rampsOver(kmh, from, to, column))
  }
}

/** The last few columns worked out, by the two numbers that they follow from. */
class Columns {
  readonly #kept: { a: number; b: number; column: Float64Array }[] = []
  #next = 0

  of(a: number, b: number, length: number, fill: (column: Float64Array) => void): Float64Array {
    for (const each of this.#kept) if (each.a === a && each.b === b) return each.column
    const place = this.#kept[this.#next] ?? { a, b, column: new Float64Array(length) }
    this.#kept[this.#next] = place
    this.#next = (this.#next + 1) % KEPT
    place.a = a
    place.b = b
    fill(place.column)
    return place.column
  }
}

// Each loop over rows is a small function of its own: compiled once, in no time, for all attempts.

function brakeParts(
  press: Float64Array,
  start: number,
  full: number,
  brakeNm: number,
  stepAt: number,
  stepNm: number,
  fade: Float64Array,
  out: Float64Array,
): void {
  for (let i = 0; i < out.length; i++) {
    const bar = press[i]!
    const jump = bar >= stepAt ? stepNm : 0
    out[i] = Math.min(brakeNm, brakeNm * ramp(bar, start, full) + jump) * fade[i]!
  }
}

function plusLift(liftNm: number, fade: Float64Array, out: Float64Array): void {
  for (let i = 0; i < out.length; i++) out[i] = liftNm * fade[i]! + out[i]!
}

function atLeastLift(liftNm: number, fade: Float64Array, out: Float64Array): void {
  for (let i = 0; i < out.length; i++) out[i] = Math.max(liftNm * fade[i]!, out[i]!)
}

function orLift(
  press: Float64Array,
  start: number,
  liftNm: number,
  fade: Float64Array,
  out: Float64Array,
): void {
  for (let i = 0; i < out.length; i++) if (!(press[i]! > start)) out[i] = liftNm * fade[i]!
}

function underPower(powerNmKmh: number, kmh: Float64Array, out: Float64Array): void {
  for (let i = 0; i < out.length; i++) out[i] = Math.min(out[i]!, powerNmKmh / kmh[i]!)
}

function follow(
  nm: Float64Array,
  run: Int32Array,
  dtS: Float64Array,
  lagS: number,
  decay: Float64Array,
  out: Float64Array,
): void {
  let state = 0
  let before = 0
  for (let i = 0; i < out.length; i++) {
    const now = out[i]!
    state = i === 0 || run[i] !== run[i - 1] ? nm[i]! : laggedBy(state, before, now, dtS[i]!, lagS, decay[i]!)
    before = now
    out[i] = state
  }
}

function decaysOver(dtS: Float64Array, lagS: number, out: Float64Array): void {
  for (let i = 0; i < out.length; i++) out[i] = Math.exp(-dtS[i]! / lagS)
}

function rampsOver(kmh: Float64Array, from: number, to: number, out: Float64Array): void {
  for (let i = 0; i < out.length; i++) out[i] = ramp(kmh[i]!, from, to)
}

/** Half of what the burst should be is seen in that row; no source. */
const THERE_SHARE = 0.5

/** A resistance that is there at times only. */
export interface Burst {
  /** Extra while it is there (negative: what is missing at times), Ω. */
  readonly ohm: number
  readonly error: number
  /** Share of the loaded time that it is there. */
  readonly share: number
}

/** From so many spreads, and volts, on a residual is not noise. */
const SPREADS = 5
const LEAST_V = 0.002
const FEWEST = 10
/** Share of the strays' squares that a resistance must explain: a stray that does not follow the current is none. */
const EXPLAINED = 0.75

/**
 * Do the readings that the robust fit left aside follow the current? Then a resistance comes and goes:
 * residual = −r · current in those bins. A frozen reading gives r < 0 of its own whole resistance; a loose sense lead
 * follows no current.
 *
 * @param residuals of the robust fit, V, NaN where a bin was not used; @param fast current behind the filter, A
 */
export function burstOf(residuals: Float64Array, fast: Float64Array, spreadV: number): Burst | null {
  const bar = Math.max(SPREADS * spreadV, LEAST_V)
  let strays = 0
  let [xx, xy, yy] = [0, 0, 0]
  for (let i = 0; i < residuals.length; i++) {
    const residual = residuals[i]!
    if (!(Math.abs(residual) > bar)) continue
    strays++
    xx += fast[i]! ** 2
    xy += fast[i]! * residual
    yy += residual ** 2
  }
  if (strays < FEWEST || xx === 0 || xy ** 2 < EXPLAINED * xx * yy) return null
  const ohm = -xy / xx
  let loaded = 0
  let there = 0
  for (let i = 0; i < residuals.length; i++) {
    const should = -ohm * fast[i]!
    if (!(Math.abs(should) > 2 * bar) || Number.isNaN(residuals[i]!)) continue
    loaded++
    if (residuals[i]! / should > THERE_SHARE) there++
  }
  // strays come in runs: about three count as one
  const error = Math.sqrt((3 * (yy - xy ** 2 / xx)) / Math.max(1, strays - 1) / xx)
  return there < FEWEST ? null : { ohm, error, share: there / loaded }
}

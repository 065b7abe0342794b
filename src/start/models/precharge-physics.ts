/**
 * The circuit of a precharge:
 *
 *     pack V ──[ R ]──┬───────┐
 *                     C      load        v(t) = V∞ + (V0 − V∞) · e^(−t/τ)
 *     pack − ─────────┴───────┘          V∞ = V · load / (load + R),  τ = C · R · V∞ / V
 *
 * Source: textbook RC charging; checked against the worked examples P4 … P6 of the project's reference values.
 */

/** Load across the link in Ω from the share V∞ ÷ V; +Infinity where the link comes up whole. */
export function loadOhm(share: number, resistorOhm: number): number {
  return share >= 1 ? Number.POSITIVE_INFINITY : (resistorOhm * share) / (1 - share)
}

/** Ω of the resistor from the measured τ, the share V∞ ÷ V and the capacitance: R = τ / (share · C). */
export function resistorFromTau(tauS: number, share: number, linkFarad: number): number {
  return tauS / (share * linkFarad)
}

/** Heat in the resistor up to a share of the pack's voltage with no load, J: ½ C V² (1 − (1 − share)²). */
export function resistorHeatJ(linkFarad: number, packV: number, share = 1): number {
  return 0.5 * linkFarad * packV ** 2 * (1 - (1 - share) ** 2)
}

/**
 * Heat in the resistor over a precharge of `durationS` with a load, J: ∫ (V − v)² / R dt with
 * V − v = (V − V∞) + (V∞ − V0) · e^(−t/τ).
 */
export function resistorHeatWithLoadJ(
  packV: number,
  finalV: number,
  startV: number,
  tauS: number,
  resistorOhm: number,
  durationS: number,
): number {
  const steady = packV - finalV
  const swing = finalV - startV
  const e = Math.exp(-durationS / tauS)
  return (
    (steady ** 2 * durationS +
      2 * steady * swing * tauS * (1 - e) +
      ((swing ** 2 * tauS) / 2) * (1 - e ** 2)) /
    resistorOhm
  )
}

/** Seconds for the link to fall from one voltage to another through its bleed: t = τ · ln(from / to). */
export function dischargeTimeS(fromV: number, toV: number, tauS: number): number {
  return tauS * Math.log(fromV / toV)
}

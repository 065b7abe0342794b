export const GRAVITY_MS2 = 9.80665

/** Wh that a car gives up from one speed to a lower one: ½ m v². More than this cannot be regenerated on the level. */
export function kineticWh(massKg: number, fromKmh: number, toKmh: number): number {
  return (0.5 * massKg * (fromKmh ** 2 - toKmh ** 2)) / 3.6 ** 2 / 3600
}

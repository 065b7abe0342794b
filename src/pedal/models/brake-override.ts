/**
 * When the published rule would cut the torque: at once when the brake is applied and the accelerator is past 25 % of
 * travel, and from then on until it is under 5 %, whatever the brake does.
 * Source: FSAE rules 2026, EV.4.7.1 and EV.4.7.2.
 *
 * @param applied 1 while the brake is applied
 * @param percent accelerator travel
 * @returns 1 while the torque would be cut
 */
export function brakeOverride(
  applied: ArrayLike<number>,
  percent: ArrayLike<number>,
  abovePercent = 25,
  untilPercent = 5,
): Uint8Array {
  const cut = new Uint8Array(percent.length)
  let latched = 0
  for (let i = 0; i < percent.length; i++) {
    if (applied[i] === 1 && percent[i]! > abovePercent) latched = 1
    else if (percent[i]! < untilPercent) latched = 0
    cut[i] = latched
  }
  return cut
}

/** Room that a mark takes, px. */
const MARK_PX = 26

/**
 * Middles of the marks, px: each at its moment, pushed along where it would cover another, so that a finger meets one
 * alone. Marks for which the strip has no room are left out: the findings themselves list them.
 */
export function markPlaces(shares: readonly number[], widthPx: number): (number | undefined)[] {
  const room = Math.max(0, Math.floor(widthPx / MARK_PX))
  const order = shares
    .map((share, i) => ({ i, at: Math.max(MARK_PX / 2, share * widthPx) }))
    .slice(0, room)
    .sort((a, b) => a.at - b.at)
  for (let k = 1; k < order.length; k++) order[k]!.at = Math.max(order[k]!.at, order[k - 1]!.at + MARK_PX)
  let end = widthPx - MARK_PX / 2
  for (let k = order.length - 1; k >= 0; k--) {
    order[k]!.at = Math.min(order[k]!.at, end)
    end = order[k]!.at - MARK_PX
  }
  const out: (number | undefined)[] = shares.map(() => undefined)
  for (const { i, at } of order) out[i] = at
  return out
}

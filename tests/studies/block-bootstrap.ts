import type { Random } from '../simulator/random.ts'

/**
 * Moving-block bootstrap: rows are drawn in runs of `length` neighbours, so that what hangs together in time stays
 * together. Gives the figure of each of `draws` resamples, each `n` rows long: the last run is cut short.
 *
 * @param figure from the drawn rows' indexes to a number
 * Source: Künsch, Annals of Statistics 17 (1989) 1217.
 */
export function blockBootstrap(
  n: number,
  length: number,
  draws: number,
  figure: (rows: Int32Array) => number,
  random: Random,
): Float64Array {
  const starts = n - length + 1
  const rows = new Int32Array(n)
  return Float64Array.from({ length: draws }, () => {
    for (let from = 0; from < n; from += length) {
      const start = Math.min(starts - 1, Math.floor(random.next() * starts))
      for (let i = 0; i < length && from + i < n; i++) rows[from + i] = start + i
    }
    return figure(rows)
  })
}

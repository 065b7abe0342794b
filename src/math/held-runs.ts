/** A stretch of samples beyond a limit, and what the sampling proves about how long it lasted. */
export interface HeldRun {
  /** First and last sample beyond the limit. */
  readonly first: number
  readonly last: number
  /** It lasted at least, and at most, so long: between the outer bad samples; between the good ones around them. */
  readonly atLeastS: number
  readonly atMostS: number
  /** Largest value in the run. */
  readonly peak: number
}

/** Runs of consecutive samples with value > limit; NaN ends a run. */
export function runsAbove(timeS: ArrayLike<number>, values: ArrayLike<number>, limit: number): HeldRun[] {
  const runs: HeldRun[] = []
  let first = -1
  let peak = 0
  for (let i = 0; i <= timeS.length; i++) {
    if (i < timeS.length && values[i]! > limit) {
      if (first < 0) {
        first = i
        peak = 0
      }
      if (values[i]! > peak) peak = values[i]!
    } else if (first >= 0) {
      const last = i - 1
      runs.push({
        first,
        last,
        atLeastS: timeS[last]! - timeS[first]!,
        atMostS:
          (i < timeS.length ? timeS[i]! : Number.POSITIVE_INFINITY) -
          (first > 0 ? timeS[first - 1]! : Number.NEGATIVE_INFINITY),
        peak,
      })
      first = -1
    }
  }
  return runs
}

/** The largest value that was held for longer than `seconds`: the maximum over all such windows of their minimum. */
export interface HeldPeak {
  readonly value: number
  /** First and last sample of the window. */
  readonly first: number
  readonly last: number
}

/** Sliding minimum over the shortest windows longer than `seconds` (strictly); NaN ends a window. O(n). */
export function heldPeak(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  seconds: number,
): HeldPeak | null {
  let best: HeldPeak | null = null
  let from = 0
  const queue: number[] = [] // indexes with rising values: the front is the window's minimum
  let head = 0
  for (let i = 0; i < timeS.length; i++) {
    if (!Number.isFinite(values[i])) {
      from = i + 1
      queue.length = 0
      head = 0
      continue
    }
    while (queue.length > head && values[queue[queue.length - 1]!]! >= values[i]!) queue.pop()
    queue.push(i)
    while (from + 1 <= i && timeS[i]! - timeS[from + 1]! > seconds + 1e-9) from++
    while (queue[head]! < from) head++
    if (!(timeS[i]! - timeS[from]! > seconds + 1e-9)) continue
    const value = values[queue[head]!]!
    if (!best || value > best.value) best = { value, first: from, last: i }
  }
  return best
}

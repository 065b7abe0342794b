/** A run of samples past a limit that lasted long enough to count. */
export interface HeldRun {
  /** First and last sample, both inclusive. */
  readonly first: number
  readonly last: number
  /** The most extreme level that two neighbouring samples both reached. */
  readonly level: number
}

/**
 * Runs in which every sample is past the limit for at least `leastS` (or over two samples where they are further apart
 * than half of that). Samples that are not finite neither break nor lengthen a run.
 * @param past is sample i past the limit?
 * @param extreme 1 where higher is worse, −1 where lower is
 */
export function heldRuns(
  timeS: ArrayLike<number>,
  values: ArrayLike<number>,
  past: (index: number) => boolean,
  leastS: number,
  extreme: 1 | -1,
): HeldRun[] {
  const runs: HeldRun[] = []
  let first = -1
  let last = -1
  let samples = 0
  let level = Number.NEGATIVE_INFINITY
  const close = (): void => {
    if (samples >= 2) {
      const length = timeS[last]! - timeS[first]!
      const spacing = length / (samples - 1)
      if (length >= leastS || spacing > leastS / 2) runs.push({ first, last, level: level * extreme })
    }
    first = -1
    samples = 0
    level = Number.NEGATIVE_INFINITY
  }
  for (let i = 0; i < timeS.length; i++) {
    if (!Number.isFinite(values[i]!)) continue
    if (!past(i)) {
      if (first >= 0) close()
      continue
    }
    if (first < 0) first = i
    else level = Math.max(level, Math.min(values[i]! * extreme, values[last]! * extreme))
    last = i
    samples++
  }
  if (first >= 0) close()
  return runs
}

/** The worst of several runs; null without any. */
export function worstRun(runs: readonly HeldRun[], extreme: 1 | -1): HeldRun | null {
  let worst: HeldRun | null = null
  for (const run of runs) if (!worst || run.level * extreme > worst.level * extreme) worst = run
  return worst
}

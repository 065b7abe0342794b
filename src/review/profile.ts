/** Where the time of a review went: `aftermile review … --profile`. Off, it costs one comparison a call. */
interface Spent {
  kind: 'analysis' | 'model'
  name: string
  /** Processor time of itself and of what it called first, ms. */
  wholeMs: number
  /** Without the models that it called first. */
  ownMs: number
  calls: number
}

let spent: Map<string, Spent> | null = null
/** Time of what was called from within, for each call that is under way. */
const inside: number[] = []

export function startProfile(): void {
  spent = new Map()
}

/** Runs a thing; where a profile was asked for, notes the processor time that it took. */
export function timed<T>(kind: Spent['kind'], name: string, run: () => T): T {
  if (!spent) return run()
  const key = `${kind} ${name}`
  const each = spent.get(key) ?? { kind, name, wholeMs: 0, ownMs: 0, calls: 0 }
  spent.set(key, each)
  const before = process.cpuUsage()
  inside.push(0)
  try {
    return run()
  } finally {
    const { user, system } = process.cpuUsage(before)
    const ms = (user + system) / 1000
    each.wholeMs += ms
    each.ownMs += ms - inside.pop()!
    each.calls++
    if (inside.length > 0) inside[inside.length - 1]! += ms
  }
}

/** Dearest first: what analyses and models took themselves, and with what they called first; "" where none was asked for. */
export function profileText(): string {
  if (!spent) return ''
  const all = [...spent.values()].sort((a, b) => b.ownMs - a.ownMs)
  const whole = all.reduce((sum, each) => sum + each.ownMs, 0)
  const rows = all
    .filter((each) => each.ownMs >= 0.5)
    .map(
      ({ kind, name, wholeMs, ownMs }) =>
        `${ownMs.toFixed(0).padStart(8)} ${wholeMs.toFixed(0).padStart(8)}  ${kind === 'model' ? name : `"${name}"`}`,
    )
  return [
    `review: ${whole.toFixed(0)} ms of processor time; own, with what it called first ("…" analyses, others models)`,
    ...rows,
    '',
  ].join('\n')
}

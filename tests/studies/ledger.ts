import { appendFileSync, existsSync, mkdirSync, readFileSync } from 'node:fs'
import { dirname } from 'node:path'

/**
 * Results of a study, a line of JSON a drive, so that chunks of it add up: `--results=FILE` keeps them, a drive that stands
 * in the file is not driven again, `--minutes=N` ends the chunk, and the tables are of the whole file. Without a file
 * they live in memory alone.
 */
export class Ledger<T> {
  private readonly rows = new Map<string, T>()
  private readonly file: string | null
  private readonly endsMs: number

  constructor(argv: readonly string[]) {
    const word = (name: string): string | undefined =>
      argv.find((each) => each.startsWith(`--${name}=`))?.slice(name.length + 3)
    this.file = word('results') ?? null
    this.endsMs = performance.now() + Number(word('minutes') ?? Number.POSITIVE_INFINITY) * 60_000
    if (this.file === null) return
    mkdirSync(dirname(this.file), { recursive: true })
    if (!existsSync(this.file)) return
    for (const line of readFileSync(this.file, 'utf8').split('\n')) {
      if (line === '') continue
      const { key, result } = JSON.parse(line) as { key: string; result: T }
      this.rows.set(key, result)
    }
  }

  /** The chunk's time is over: what is missing stays for the next one. */
  get over(): boolean {
    return performance.now() > this.endsMs
  }

  get(key: string): T | undefined {
    return this.rows.get(key)
  }

  add(key: string, result: T): void {
    this.rows.set(key, result)
    if (this.file !== null) appendFileSync(this.file, `${JSON.stringify({ key, result })}\n`)
  }

  all(): readonly (readonly [string, T])[] {
    return [...this.rows]
  }
}

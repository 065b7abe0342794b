import { type Fault, type FaultOf, faultsOf, type RunawayWay } from './faults.ts'

/** What decides whether a runaway begins, and what it does. */
export interface RunawayFelt {
  readonly timeS: number
  readonly ready: boolean
  /** Pedal travel 0 … 1, brake in bar. */
  readonly travel: number
  readonly bar: number
  readonly kmh: number
  /** What pedal, brake and functions ask for now, N·m. */
  readonly request: number
}

export interface RunawaySpell {
  readonly way: RunawayWay
  readonly fromS: number
  readonly toS: number
  readonly nm: number
}

/** Ways that a startled driver answers with both feet off until it is over; the others leave him driving. */
const STARTLES: ReadonlySet<RunawayWay> = new Set<RunawayWay>(['stuck', 'rising', 'low-speed', 'coasting'])

/**
 * Torque that nobody asked for, in the ways of the contract's rule (`RunawayWay` in faults.ts says each). A runaway
 * begins at the first moment after `atS` that fits its way, and lasts `lenS`.
 */
export class Runaways {
  readonly spells: RunawaySpell[] = []
  private readonly pending: FaultOf<'runaway'>[]
  private now: FaultOf<'runaway'> | null = null
  private untilS = 0
  private releasedS = 0
  private pressedNm = 0
  private stuckNm = 0

  constructor(faults: readonly Fault[]) {
    this.pending = [...faultsOf(faults, 'runaway')]
  }

  /** The driver takes his feet off. */
  get startles(): boolean {
    return this.now !== null && STARTLES.has(this.now.way)
  }

  /** What is asked for and what is aimed at, N·m; they differ where the request does not show it. */
  step(dt: number, felt: RunawayFelt): { request: number; aim: number } {
    const { timeS, request } = felt
    const plain = { request, aim: request }
    this.releasedS = felt.travel < 0.005 ? this.releasedS + dt : 0
    if (felt.travel >= 0.05) this.pressedNm = request
    if (!felt.ready || (this.now && timeS >= this.untilS)) this.now = null
    if (!felt.ready) return plain
    if (!this.now) {
      const at = this.pending.findIndex((fault) => timeS >= fault.atS && this.fits(fault, felt))
      if (at < 0) return plain
      const fault = this.pending.splice(at, 1)[0]!
      this.now = fault
      this.untilS = timeS + fault.lenS
      this.stuckNm = Math.max(fault.nm, this.pressedNm)
      this.spells.push({ way: fault.way, fromS: timeS, toS: this.untilS, nm: fault.nm })
    }
    const { way, nm } = this.now
    if (way === 'beyond-request') return { request, aim: request + nm }
    if (way === 'opposite') return { request, aim: -request }
    const all = way === 'stuck' ? this.stuckNm : nm
    return { request: all, aim: all }
  }

  private fits({ way, nm }: FaultOf<'runaway'>, { kmh, bar, request }: RunawayFelt): boolean {
    const released = this.releasedS > 0
    const free = this.releasedS > 0.04 && bar < 0.3
    switch (way) {
      case 'stuck':
        return released && this.releasedS < 0.1 && kmh > 20 && kmh < 70
      case 'with-brake':
        return released && bar > 3 && kmh > 12
      case 'rising':
        return free && kmh > 1 && kmh < 14
      case 'low-speed':
        return free && kmh > 8 && kmh < 24
      case 'coasting':
        return free && kmh > 27
      case 'beyond-request':
        // begun while drive is asked for: added to braking it is less braking than asked, as limits give as well
        return kmh > 10 && request > 0
      case 'opposite':
        return Math.abs(request) > nm && kmh > 15
    }
  }
}

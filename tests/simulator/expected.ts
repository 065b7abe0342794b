import type { Fault } from './faults.ts'
import type { Measured } from './simulate.ts'

/** A finding that the review must give, with its relative tolerance. */
export interface Expected {
  readonly kind: string
  readonly index?: number
  readonly name?: string
  readonly value?: number
  readonly tol?: number
}

/** What a review of this drive must find above `note`, and what it may find as well. */
export interface Expectation {
  readonly expect: readonly Expected[]
  readonly allow: readonly string[]
}

/** The findings that the injected faults call for, with the true figures. */
export function expectedFindings(made: Measured): Expectation {
  const parts = made.truth.faults.map((fault) => expectedOf(fault, made))
  // A nearly full or cold battery limits regeneration without any fault.
  const limited = made.truth.regen.limitedShare > 0.05 ? ['regen-limited'] : []
  return {
    expect: parts.flatMap((part) => part.expect),
    allow: [...parts.flatMap((part) => part.allow), ...limited],
  }
}

const only = (...expect: Expected[]): Expectation => ({ expect, allow: [] })
const with_ = (allow: readonly string[], ...expect: Expected[]): Expectation => ({ expect, allow })

function expectedOf(fault: Fault, made: Measured): Expectation {
  const { truth } = made
  switch (fault.kind) {
    case 'joint':
      return fault.onS === undefined
        ? only({ kind: 'joint-resistance-high', index: fault.cell, value: 1000 * fault.ohm, tol: 0.15 })
        : only({ kind: 'joint-resistance-high', index: fault.cell })
    case 'weak-cell': {
      const ratio = truth.cells[fault.cell - 1]!.ohmicMohm / truth.medianOhmicMohm
      return with_(['cell-voltage-limit'], { kind: 'cell-weak', index: fault.cell, value: ratio, tol: 0.12 })
    }
    case 'parallel-open':
      return with_(['cell-weak', 'cell-voltage-limit'], {
        kind: 'parallel-cell-open',
        index: fault.cell,
        value: fault.missing,
      })
    case 'sense-lead':
      return only({ kind: 'sense-lead-offset', index: fault.cell, value: 1000 * fault.volt, tol: 0.15 })
    case 'tap-misplaced':
      return only({ kind: 'sense-tap-misplaced', index: fault.cell, value: 1000 * fault.ohm, tol: 0.25 })
    case 'imbalance': {
      // On a flat curve a difference of charge hardly shows: 12 mV is the attention limit with something to spare.
      const value = truth.cells[fault.cell - 1]!.restOffsetMv
      return Math.abs(value) < 12
        ? with_(['cell-imbalance'])
        : with_(['cell-voltage-limit'], { kind: 'cell-imbalance', index: fault.cell, value, tol: 0.15 })
    }
    case 'cell-frozen':
      return only({ kind: 'cell-reading-frozen', index: fault.cell })
    case 'cell-invalid':
      return only({ kind: 'cell-reading-invalid', index: fault.cell })
    case 'cooling':
      return only({
        kind: 'module-cooling-poor',
        index: fault.module,
        value: truth.modules[fault.module - 1]!.coolingFactor,
        tol: 0.3,
      })
    case 'coolant-flow':
      return only({ kind: 'coolant-flow-doubtful' })
    case 'temperature-frozen':
      return only({ kind: 'temperature-reading-frozen', index: fault.sensor })
    case 'temperature-open':
      return only({ kind: 'temperature-reading-invalid', index: fault.sensor })
    case 'drive-temperature-frozen':
      return only({ kind: 'temperature-reading-frozen', name: fault.channel })
    case 'drive-temperature-open':
      return only({ kind: 'temperature-reading-invalid', name: fault.channel })
    case 'temperature-swapped':
      return with_(['module-cooling-poor'])
    case 'pedal-drift':
      return Math.abs(fault.points) > 10
        ? with_(['pedal-out-of-range'], { kind: 'pedal-mismatch', value: Math.abs(fault.points), tol: 0.12 })
        : only()
    case 'pedal-blip':
      return Math.abs(fault.points) > 10 && fault.lenS > 0.1 ? only({ kind: 'pedal-mismatch' }) : only()
    case 'pedal-out-of-range':
      return with_(['pedal-mismatch'], {
        kind: 'pedal-out-of-range',
        index: fault.track ?? 1,
        value: fault.volt,
        tol: 0.05,
      })
    case 'pedal-short':
      return with_(['pedal-mismatch', 'pedal-with-brake'], { kind: 'pedal-tracks-equal' })
    case 'runaway': {
      const happened = truth.runaways.some(({ way }) => way === fault.way)
      const kind = /request|opposite/.test(fault.way) ? 'torque-unrequested' : 'torque-without-pedal'
      return happened
        ? with_(['torque-lag', 'pedal-with-brake', 'torque-without-pedal', 'torque-unrequested'], { kind })
        : with_([])
    }
    case 'self-heating':
      return fault.kelvinMin > 1.2
        ? with_(['temperature-rise-fast', 'temperature-limit'], { kind: 'self-heating', index: fault.module })
        : with_(['self-heating', 'module-cooling-poor'])
    case 'self-discharge':
      return with_(['cell-self-discharge', 'cell-imbalance'])
    case 'torque-without-pedal':
      return only({ kind: 'torque-without-pedal', value: fault.nm, tol: 0.15 })
    case 'precharge-load':
    case 'precharge-short':
      return truth.precharge.reachedPercent < (made.vehicle.precharge?.ready_percent ?? 95)
        ? with_(['precharge-open'], noDrive('precharge'), {
            kind: 'precharge-incomplete',
            value: truth.precharge.reachedPercent,
            tol: 0.06,
          })
        : only()
    case 'precharge-open':
      return with_(['precharge-incomplete'], noDrive('precharge'), { kind: 'precharge-open' })
    case 'contactor-resistance':
      return with_(['main-path-resistance-high'], {
        kind: 'contactor-resistance-high',
        value: 1000 * fault.ohm,
        tol: 0.4,
      })
    case 'contactor-welded':
      return fault.pole === 'both' ? only({ kind: 'contactor-welded' }) : with_(['contactor-welded'])
    case 'contactor-opened':
      return with_(['no-drive'], { kind: 'contactor-opened-under-load' }, { kind: 'drive-lost' })
    case 'lv-low':
      return blocked(fault, made, 'supply', 'lv-voltage-low')
    case 'isolation':
      // A leak behind the contactors shows for the second or two that they are closed.
      return fault.side === 'link' && (fault.fromS ?? 0) === 0
        ? with_(['isolation-low', 'no-drive', 'drive-lost'])
        : blocked(fault, made, 'isolation', 'isolation-low')
    case 'interlock-open':
      return blocked(fault, made, 'interlock', 'interlock-open')
    case 'inertia-open':
      return blocked(fault, made, 'inertia', 'inertia-switch-open')
    case 'plug-in':
      return blocked(fault, made, 'plug', 'charge-plug-in')
    case 'selector-not-neutral':
      return blocked(fault, made, 'selector', 'selector-not-neutral')
    case 'battery-fault':
      return blocked(fault, made, 'battery', null)
    case 'inverter-off':
      return blocked(fault, made, 'inverter', null)
    case 'brake-not-pressed':
      return blocked(fault, made, 'brake', null)
    case 'pedal-pressed':
      return blocked(fault, made, 'pedal', null)
    case 'negative-stays-open':
      return with_(['precharge-open', 'precharge-incomplete'], { kind: 'no-drive' })
    case 'positive-stays-open':
      return with_(['precharge-incomplete'], { kind: 'no-drive' })
    case 'no-key':
      return with_(['no-drive'])
    case 'dcdc-off':
      return only({ kind: 'dcdc-not-charging' })
    case 'regen-dead-band':
      return only({ kind: 'regen-dead-band', value: fault.bar, tol: 0.15 })
    case 'regen-step':
      return only({ kind: 'regen-step', value: fault.nm, tol: 0.3 })
    case 'regen-limited':
      return only({ kind: 'regen-limited' })
    case 'regen-lag':
      return with_(['regen-lag'])
    case 'brake-signal-missing':
      return with_(['lamp-disagrees'], { kind: 'brake-signal-missing' })
    case 'node-silent':
      // Nodes are known from frames only.
      return with_(['log-gap', 'node-silent'])
    case 'log-gap':
      return with_(['node-silent'], { kind: 'log-gap' })
  }
}

const noDrive = (name: string): Expected => ({ kind: 'no-drive', name })

/** A step of the start chain that fails at the start, or while driving. */
function blocked(
  fault: { readonly fromS?: number },
  made: Measured,
  step: string,
  finding: string | null,
): Expectation {
  const own = finding ? [{ kind: finding }] : []
  const lost = made.truth.starts.some((start) => start.lostS !== null)
  if ((fault.fromS ?? 0) > 0 && lost)
    return with_(['no-drive', 'contactor-opened-under-load'], ...own, { kind: 'drive-lost' })
  return with_([], ...own, noDrive(step))
}

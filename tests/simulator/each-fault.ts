import { reviewDrive } from '../../src/review/review.ts'
import { expectedFindings } from './expected.ts'
import type { Fault } from './faults.ts'
import { type SimulateOptions, simulate } from './simulate.ts'

/**
 * Every fault once, on an ordinary car with an ordinary logger: expected against found, false alarms named. Slow
 * (a minute); `npx tsx tests/simulator/each-fault.ts [kind …]`.
 */
const drive = { kind: 'mixed', durationS: 420 } as const
const hard = { kind: 'hard', durationS: 900 } as const
const CASES: readonly (readonly [Fault, Partial<SimulateOptions>?])[] = [
  [{ kind: 'joint', cell: 40, ohm: 0.00045 }],
  [{ kind: 'joint', cell: 40, ohm: 0.0012, onS: 40, offS: 50 }],
  [{ kind: 'joint', cell: 12, ohm: 0.0006 }],
  [{ kind: 'weak-cell', cell: 71, ratio: 1.5, capacity: 0.94 }],
  [{ kind: 'parallel-open', cell: 18, missing: 1 }],
  [{ kind: 'sense-lead', cell: 30, volt: 0.014 }],
  [{ kind: 'sense-lead', cell: 55, volt: -0.02 }],
  [{ kind: 'tap-misplaced', cell: 52, ohm: 0.0004 }],
  [{ kind: 'imbalance', cell: 22, soc: -0.025 }],
  [{ kind: 'imbalance', cell: 80, soc: 0.02 }],
  [{ kind: 'cell-frozen', cell: 33, fromS: 150 }],
  [{ kind: 'cell-invalid', cell: 61, value: 0, fromS: 200, toS: 230 }],
  [
    { kind: 'cooling', module: 5, factor: 2.4 },
    { route: hard, car: { pack: { ohmicMohm: 1.9 } } },
  ],
  [
    { kind: 'coolant-flow', share: 0.03 },
    { route: hard, car: { pack: { ohmicMohm: 1.9 } } },
  ],
  [
    { kind: 'temperature-frozen', sensor: 7, fromS: 100 },
    { route: hard, car: { pack: { ohmicMohm: 1.9 } } },
  ],
  [{ kind: 'temperature-open', sensor: 4, value: -40, fromS: 120 }],
  [{ kind: 'drive-temperature-frozen', channel: 'motor_temperature', fromS: 100 }, { route: hard }],
  [{ kind: 'drive-temperature-frozen', channel: 'inverter_temperature', fromS: 200 }, { route: hard }],
  [{ kind: 'drive-temperature-open', channel: 'motor_temperature', value: 250, fromS: 120 }],
  [{ kind: 'pedal-drift', points: 15, fromS: 120, toS: 150 }],
  [{ kind: 'pedal-drift', points: -13, track: 1, fromS: 120, toS: 150 }],
  [{ kind: 'pedal-blip', points: 30, atS: 140, lenS: 0.04 }],
  [{ kind: 'pedal-out-of-range', volt: 0.05, track: 1, fromS: 130, toS: 134 }],
  [{ kind: 'pedal-out-of-range', volt: 4.98, track: 2, fromS: 130, toS: 134 }],
  [{ kind: 'pedal-short', fromS: 130, toS: 150 }],
  [{ kind: 'torque-without-pedal', nm: 14, atS: 322, lenS: 1.2 }],
  [{ kind: 'precharge-load', ohm: 700 }],
  [{ kind: 'precharge-open' }],
  [{ kind: 'precharge-short', ohm: 3 }],
  [{ kind: 'contactor-resistance', ohm: 0.009 }],
  [{ kind: 'contactor-welded', pole: 'both' }],
  [{ kind: 'contactor-welded', pole: 'positive' }],
  [{ kind: 'contactor-opened', atS: 205 }],
  [{ kind: 'interlock-open' }],
  [{ kind: 'interlock-open', fromS: 180, toS: 182 }],
  [{ kind: 'inertia-open' }],
  [{ kind: 'inertia-open', fromS: 180 }],
  [{ kind: 'plug-in' }],
  [{ kind: 'battery-fault' }],
  [{ kind: 'battery-fault', fromS: 180 }],
  [{ kind: 'inverter-off' }],
  [{ kind: 'inverter-off', fromS: 180 }],
  [{ kind: 'selector-not-neutral' }],
  [{ kind: 'brake-not-pressed' }],
  [{ kind: 'pedal-pressed' }],
  [{ kind: 'negative-stays-open' }],
  [{ kind: 'positive-stays-open' }],
  [{ kind: 'no-key' }],
  [{ kind: 'lv-low', volt: 9.6 }],
  [{ kind: 'lv-low', volt: 9.4, fromS: 180 }],
  [{ kind: 'isolation', kohm: 60, side: 'battery' }],
  [{ kind: 'isolation', kohm: 60, side: 'link' }],
  [{ kind: 'isolation', kohm: 60, side: 'battery', fromS: 180 }],
  [{ kind: 'dcdc-off' }],
  [{ kind: 'regen-dead-band', bar: 8 }],
  [{ kind: 'regen-step', bar: 6, nm: 25 }],
  [{ kind: 'regen-limited', amps: 30 }],
  [{ kind: 'regen-lag', s: 0.6 }],
  [{ kind: 'brake-signal-missing', fromS: 200, toS: 260 }],
  [{ kind: 'node-silent', node: 'vehicle', fromS: 200, toS: 204 }],
  [{ kind: 'log-gap', fromS: 200, toS: 212 }],
]

const only = process.argv.slice(2)
let bad = 0
for (const [fault, options] of CASES) {
  if (only.length > 0 && !only.includes(fault.kind)) continue
  const made = simulate({ seed: 31, route: drive, faults: [fault], ...options })
  const { expect, allow } = expectedFindings(made)
  const loud = reviewDrive(made.drive, made.vehicle).findings.filter((finding) => finding.severity !== 'note')
  const said: string[] = []
  for (const want of expect) {
    const got = loud.find(
      (finding) =>
        finding.kind === want.kind &&
        (want.index === undefined || finding.subject.index === want.index) &&
        (want.name === undefined || finding.subject.name === want.name),
    )
    const near =
      got !== undefined &&
      (want.value === undefined ||
        Math.abs((got.value ?? Number.NaN) - want.value) <= (want.tol ?? 0.1) * Math.abs(want.value))
    const aim = `${want.kind} ${want.index ?? want.name ?? ''} ${want.value?.toFixed(3) ?? ''}`
    said.push(
      `${near ? 'ok  ' : 'MISS'} ${aim} → ${got ? `${got.value?.toFixed(3)} ${got.severity}` : 'absent'}`,
    )
    if (!near) bad++
  }
  const allowed = new Set([...allow, ...expect.map((want) => want.kind)])
  for (const each of loud)
    if (!allowed.has(each.kind)) {
      bad++
      said.push(`FALSE ${each.severity} ${each.kind}: ${each.headline}`)
    }
  console.log(`${JSON.stringify(fault)}\n   ${said.join('\n   ') || 'nothing expected, nothing found'}`)
}
console.log(`\n${bad === 0 ? 'everything as expected' : `${bad} not as expected`}`)

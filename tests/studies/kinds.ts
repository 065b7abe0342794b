import { catalogueEntry } from '../../shared/channels.ts'
import type { Drive } from '../../shared/drive.ts'
import type { RawLog, RawSeries } from '../../shared/raw-log.ts'
import type { Finding, Review } from '../../shared/review.ts'
import { buildDrive } from '../../src/drive/build-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import type { BoxStyle } from '../simulator/boxes.ts'
import type { CarChanges } from '../simulator/car.ts'
import type { Fault } from '../simulator/faults.ts'
import { Random } from '../simulator/random.ts'
import { type Simulated, simulate } from '../simulator/simulate.ts'

/**
 * Every fault kind on random cars and boxes: is the right kind found at the right subject, with its value, and what
 * else is said above `note`? And healthy drives: is anything?
 *
 *     npm run study:kinds -- [drives a kind, default 4] [kind …]
 */
interface Case {
  readonly kind: string
  readonly make: (random: Random, cells: number, modules: number) => Fault[]
  readonly subject?: (faults: readonly Fault[]) => number
  readonly value?: (faults: readonly Fault[]) => number
  readonly tolerance?: number
  /** Other kinds that the fault truly brings with it. */
  readonly also?: readonly string[]
  readonly route?: Parameters<typeof simulate>[0]['route']
}

const pick = (random: Random, low: number, high: number): number => low + (high - low) * random.next()
const whole = (random: Random, low: number, high: number): number => Math.floor(pick(random, low, high + 1))
const START = ['no-drive', 'precharge-incomplete', 'precharge-open']

const CASES: readonly Case[] = [
  { kind: 'healthy', make: () => [] },
  {
    kind: 'joint-resistance-high',
    make: (r, cells) => [{ kind: 'joint', cell: whole(r, 2, cells - 1), ohm: pick(r, 0.35, 0.9) / 1000 }],
    subject: ([f]) => (f as { cell: number }).cell,
    value: ([f]) => (f as { ohm: number }).ohm * 1000,
    tolerance: 0.15,
  },
  {
    kind: 'cell-weak',
    make: (r, cells) => [
      { kind: 'weak-cell', cell: whole(r, 1, cells), ratio: pick(r, 1.45, 1.9), capacity: 0.95 },
    ],
    subject: ([f]) => (f as { cell: number }).cell,
    value: ([f]) => (f as { ratio: number }).ratio,
    tolerance: 0.2,
    also: ['cell-voltage-limit'],
  },
  {
    kind: 'sense-lead-offset',
    make: (r, cells) => [{ kind: 'sense-lead', cell: whole(r, 2, cells - 2), volt: pick(r, 0.012, 0.03) }],
    subject: ([f]) => (f as { cell: number }).cell,
    value: ([f]) => (f as { volt: number }).volt * 1000,
    tolerance: 0.2,
  },
  {
    kind: 'sense-tap-misplaced',
    make: (r, cells) => [
      { kind: 'tap-misplaced', cell: whole(r, 2, cells - 2), ohm: pick(r, 0.3, 0.6) / 1000 },
    ],
    subject: ([f]) => (f as { cell: number }).cell,
  },
  {
    kind: 'parallel-cell-open',
    make: (r, cells) => [{ kind: 'parallel-open', cell: whole(r, 1, cells), missing: 1 }],
    subject: ([f]) => (f as { cell: number }).cell,
    also: ['cell-weak'],
  },
  {
    kind: 'cell-imbalance',
    make: (r, cells) => [{ kind: 'imbalance', cell: whole(r, 1, cells), soc: -pick(r, 0.025, 0.05) }],
    subject: ([f]) => (f as { cell: number }).cell,
    also: ['cell-voltage-limit'],
  },
  {
    kind: 'cell-reading-frozen',
    make: (r, cells) => [{ kind: 'cell-frozen', cell: whole(r, 1, cells), fromS: 150 }],
    subject: ([f]) => (f as { cell: number }).cell,
  },
  {
    kind: 'cell-reading-invalid',
    make: (r, cells) => [{ kind: 'cell-invalid', cell: whole(r, 1, cells), fromS: 150, toS: 260, value: 0 }],
    subject: ([f]) => (f as { cell: number }).cell,
  },
  {
    kind: 'module-cooling-poor',
    make: (r, _, modules) => [{ kind: 'cooling', module: whole(r, 1, modules), factor: pick(r, 2.2, 3) }],
    subject: ([f]) => (f as { module: number }).module,
    value: ([f]) => (f as { factor: number }).factor,
    tolerance: 0.3,
    also: ['temperature-limit'],
    route: { kind: 'rural', durationS: 1800 },
  },
  {
    kind: 'temperature-reading-frozen',
    make: (r, _, modules) => [{ kind: 'temperature-frozen', sensor: whole(r, 1, modules), fromS: 100 }],
    subject: ([f]) => (f as { sensor: number }).sensor,
    route: { durationS: 1500 },
  },
  {
    kind: 'temperature-reading-invalid',
    make: (r, _, modules) => [
      { kind: 'temperature-open', sensor: whole(r, 1, modules), fromS: 200, value: -40 },
    ],
    subject: ([f]) => (f as { sensor: number }).sensor,
  },
  {
    kind: 'pedal-mismatch',
    make: (r) => [{ kind: 'pedal-drift', points: pick(r, 13, 25), fromS: 150, toS: 170 }],
    value: ([f]) => (f as { points: number }).points,
    tolerance: 0.15,
  },
  { kind: 'healthy', make: (r) => [{ kind: 'pedal-blip', points: 25, atS: pick(r, 100, 300), lenS: 0.05 }] },
  {
    kind: 'pedal-out-of-range',
    make: (r) => [{ kind: 'pedal-out-of-range', volt: 4.95, track: 1, fromS: pick(r, 100, 200), toS: 300 }],
    also: ['pedal-mismatch', 'torque-without-pedal'],
  },
  {
    kind: 'torque-without-pedal',
    make: (r) => [{ kind: 'torque-without-pedal', nm: pick(r, 15, 40), atS: pick(r, 80, 200), lenS: 3 }],
    also: ['torque-lag'],
  },
  {
    kind: 'precharge-incomplete',
    make: (r) => [{ kind: 'precharge-load', ohm: pick(r, 300, 900) }],
    also: START,
    route: null,
  },
  { kind: 'precharge-open', make: () => [{ kind: 'precharge-open' }], also: START, route: null },
  {
    kind: 'contactor-welded',
    make: () => [{ kind: 'contactor-welded', pole: 'both' }],
    also: ['link-discharge-slow', 'no-drive'],
  },
  {
    kind: 'contactor-opened-under-load',
    make: (r) => [{ kind: 'contactor-opened', atS: pick(r, 100, 300) }],
    also: ['drive-lost', 'no-drive'],
  },
  { kind: 'interlock-open', make: () => [{ kind: 'interlock-open' }], also: START, route: null },
  { kind: 'inertia-switch-open', make: () => [{ kind: 'inertia-open' }], also: START, route: null },
  { kind: 'charge-plug-in', make: () => [{ kind: 'plug-in' }], also: START, route: null },
  { kind: 'selector-not-neutral', make: () => [{ kind: 'selector-not-neutral' }], also: START, route: null },
  {
    kind: 'lv-voltage-low',
    make: () => [{ kind: 'lv-low', volt: 9.5 }],
    also: [...START, 'dcdc-not-charging'],
    route: null,
  },
  { kind: 'no-drive', make: () => [{ kind: 'battery-fault' }], also: START, route: null },
  { kind: 'no-drive', make: () => [{ kind: 'inverter-off' }], also: START, route: null },
  { kind: 'no-drive', make: () => [{ kind: 'negative-stays-open' }], also: START, route: null },
  { kind: 'no-drive', make: () => [{ kind: 'positive-stays-open' }], also: START, route: null },
  {
    kind: 'drive-lost',
    make: (r) => [{ kind: 'interlock-open', fromS: pick(r, 120, 250) }],
    also: ['interlock-open', 'contactor-opened-under-load', 'no-drive'],
  },
  {
    kind: 'drive-lost',
    make: (r) => [{ kind: 'inertia-open', fromS: pick(r, 120, 250) }],
    also: ['inertia-switch-open', 'contactor-opened-under-load', 'no-drive'],
  },
  {
    kind: 'isolation-low',
    make: (r) => [{ kind: 'isolation', kohm: pick(r, 10, 60), side: 'battery' }],
    also: ['no-drive'],
  },
  { kind: 'dcdc-not-charging', make: () => [{ kind: 'dcdc-off' }], also: ['lv-voltage-low'] },
  {
    kind: 'regen-dead-band',
    make: (r) => [{ kind: 'regen-dead-band', bar: pick(r, 8, 12) }],
    value: ([f]) => (f as { bar: number }).bar,
    tolerance: 0.2,
  },
  {
    kind: 'regen-step',
    make: (r) => [{ kind: 'regen-step', bar: pick(r, 8, 14), nm: pick(r, 22, 35) }],
    also: ['regen-lag'],
  },
  { kind: 'regen-limited', make: (r) => [{ kind: 'regen-limited', amps: pick(r, 15, 30) }] },
  {
    kind: 'brake-signal-missing',
    make: () => [{ kind: 'brake-signal-missing' }],
    also: ['lamp-disagrees', 'regen-dead-band'],
  },
  {
    kind: 'contactor-resistance-high',
    make: (r) => [{ kind: 'contactor-resistance', ohm: pick(r, 0.03, 0.06) }],
    also: ['main-path-resistance-high'],
  },
  {
    kind: 'temperature-reading-frozen',
    make: (r) => [
      {
        kind: 'drive-temperature-frozen',
        channel: r.next() < 0.5 ? 'inverter_temperature' : 'motor_temperature',
        fromS: 100,
      },
    ],
    route: { durationS: 1500 },
  },
  {
    kind: 'temperature-reading-invalid',
    make: (r) => [
      {
        kind: 'drive-temperature-open',
        channel: r.next() < 0.5 ? 'inverter_temperature' : 'motor_temperature',
        fromS: 200,
        value: r.next() < 0.5 ? -40 : 250,
      },
    ],
  },
  {
    kind: 'coolant-flow-doubtful',
    make: (r) => [{ kind: 'coolant-flow', share: pick(r, 0.02, 0.04) }],
    route: { kind: 'rural', durationS: 1500 },
  },
  {
    kind: 'coolant-flow-doubtful',
    make: (r) => [{ kind: 'coolant-flow', share: pick(r, 0.02, 0.05), fromS: pick(r, 400, 700) }],
    route: { kind: 'rural', durationS: 1500 },
  },
  { kind: 'healthy', make: () => [], route: { kind: 'rural', durationS: 1500 } },
  {
    kind: 'temperature-sensor-swapped',
    // two sensors a module: both of a hot module change places with both of its neighbour's neighbour
    make: (r, _, modules) => {
      const hot = whole(r, 1, modules - 2)
      return [
        { kind: 'temperature-swapped', sensors: [2 * hot - 1, 2 * hot + 3] },
        { kind: 'temperature-swapped', sensors: [2 * hot, 2 * hot + 4] },
        { kind: 'cooling', module: hot, factor: pick(r, 2.5, 4) },
      ]
    },
    also: ['module-cooling-poor', 'temperature-limit'],
    route: { kind: 'hard', durationS: 1800 },
  },
]

function randomCar(random: Random): {
  car: CarChanges
  style: Partial<BoxStyle>
  cells: number
  modules: number
} {
  const modules = whole(random, 4, 8)
  const per = whole(random, 8, 16)
  const lfp = random.next() < 0.25
  // A pack of fewer cells drives a smaller car: powers and masses follow, or every limit would be passed.
  const size = (modules * per) / 96
  return {
    modules,
    cells: modules * per,
    car: {
      pack: {
        cellsPerModule: Array.from({ length: modules }, () => per),
        boxOfModule: Array.from({ length: modules }, (_, m) => (m < modules / 2 ? 'front' : 'rear')),
        ...(lfp ? { chemistry: 'lfp', voltMin: 2.5, voltMax: 3.65 } : {}),
      },
      road: {
        massKg: 600 + 740 * size,
        motorMaxW: 80_000 * size,
        motorMaxNm: 170 * size,
        dragAreaM2: 0.4 + 0.3 * size,
      },
      brake: { startBar: pick(random, 1.5, 4), fullBar: pick(random, 20, 32), maxNm: 75 * size },
      heat: { coolingOrder: [Array.from({ length: modules }, (_, m) => m + 1)] },
    } as CarChanges,
    style: {
      cellHz: [10, 10, 5, 2][whole(random, 0, 3)]!,
      cellStepV: [0.001, 0.001, 0.002, 0.005][whole(random, 0, 3)]!,
      scanS: pick(random, 0, 0.3),
      currentGain: pick(random, -0.015, 0.015),
      currentOffsetA: pick(random, -1, 1),
      held: random.next() < 0.4,
      turned: random.next() < 0.2,
      vehicleHz: [100, 50, 20, 10][whole(random, 0, 3)]!,
    },
  }
}

const loud = (review: Review): Finding[] => review.findings.filter((finding) => finding.severity !== 'note')

/** The boxes' samples through the program's own cleaning and conditioning, names given. */
function built(made: Simulated): Drive {
  const series = made.samples.map(
    (each): RawSeries => ({
      name: each.id,
      unit: catalogueEntry(each.id)?.unit ?? null,
      channel: each.id,
      timeS: each.timeS,
      values: each.values,
      fresh: each.fresh,
      labels: null,
      node: each.reading.node ?? null,
    }),
  )
  const log: RawLog = {
    name: 'boxes.csv',
    sha256: '0'.repeat(64),
    layout: 'simulated',
    rows: 0,
    skipped: [],
    series,
    startedAt: null,
    fingerprint: 'simulated',
    bus: null,
    events: [],
    clockSteps: [],
  }
  return buildDrive([log], { vehicle: made.vehicle })
}

function main(): void {
  const args = process.argv.slice(2)
  const drives = Number(args.find((each) => /^\d+$/.test(each)) ?? 4)
  const only = args.filter((each) => !/^\d+$/.test(each) && !each.startsWith('-'))
  const bare = args.includes('--without-vehicle')
  let cases = 0
  let right = 0
  let falseOnes = 0
  for (const each of CASES) {
    if (only.length > 0 && !only.includes(each.kind)) continue
    const lines: string[] = []
    let hits = 0
    for (let n = 0; n < drives; n++) {
      const seed = 1000 * CASES.indexOf(each) + n
      const random = new Random(seed)
      const { car, style, cells, modules } = randomCar(random)
      const faults = each.make(random, cells, modules)
      const made = simulate({
        seed,
        car,
        style,
        faults,
        ...(each.route === undefined ? {} : { route: each.route }),
      })
      const review = reviewDrive(built(made), bare ? {} : made.vehicle)
      const found = loud(review)
      cases++
      const label = `seed ${seed} ${JSON.stringify(faults)} ${JSON.stringify(style)}`
      if (each.kind !== 'healthy') {
        const of = found.filter((finding) => finding.kind === each.kind)
        const subject = each.subject?.(faults)
        const hit = of.find((finding) => subject === undefined || finding.subject.index === subject)
        const want = each.value?.(faults)
        const near =
          !hit ||
          want === undefined ||
          Math.abs((hit.value ?? Number.NaN) / want - 1) <= (each.tolerance ?? 0.2)
        const inside = hit && want !== undefined ? hit.low! <= want && want <= hit.high! : true
        if (hit && near) {
          hits++
          right++
        } else {
          const asked = review.findings.find((finding) => finding.kind === each.kind)
          lines.push(
            `    MISS ${label}\n         ${hit ? `value ${hit.value} [${hit.low}, ${hit.high}] for ${want}` : of.length > 0 ? `at ${of.map((f) => f.subject.index)} for ${subject}` : asked ? `only a note: ${asked.headline}` : 'absent'}`,
          )
        }
        if (!inside) lines.push(`    OUT  ${label}: ${hit!.value} [${hit!.low}, ${hit!.high}] for ${want}`)
      } else {
        hits += found.length === 0 ? 1 : 0
        right += found.length === 0 ? 1 : 0
      }
      for (const finding of found)
        if (finding.kind !== each.kind && !each.also?.includes(finding.kind)) {
          falseOnes++
          lines.push(
            `    FALSE ${finding.severity} ${finding.kind} ${finding.subject.index ?? finding.subject.name ?? ''} ${finding.value} ${finding.unit} [${finding.low}, ${finding.high}] — ${label}`,
          )
        }
      for (const question of review.questions)
        if (/broke off/.test(question.why)) lines.push(`    BROKE ${question.why} — ${label}`)
    }
    console.log(
      `${String(hits).padStart(3)} of ${drives}  ${each.kind} ${each.kind === 'healthy' ? '(nothing above note)' : ''}`,
    )
    for (const line of lines) console.log(line)
  }
  console.log(
    `\n${right} of ${cases} drives right; ${falseOnes} findings above note that the fault does not explain`,
  )
}

main()

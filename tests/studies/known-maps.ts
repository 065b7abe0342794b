/**
 * Is a known map read rightly? Random cars of both simulators whose controllers depart from a plain ramp: three forms,
 * lift-off 0 to 20 N·m, starts 0.5 to 9 bar, full 8 to 60 bar, two fades, play, jumps, each kind of limit, travel and split
 * pressures. One line of results a drive, kept in a file: what is there is not driven again.
 * `npm run study:maps -- FILE [drives] [first seed]`; without drives it sums up what the file holds.
 */

import { appendFileSync, existsSync, readFileSync } from 'node:fs'
import type { Channel, Drive } from '../../shared/drive.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { brakeSplit } from '../../src/brake/models/brake-split.ts'
import { regenLimited } from '../../src/brake/models/regen-limited.ts'
import { type Figure, regenMap } from '../../src/brake/models/regen-map.ts'
import { regenBehaviour } from '../../src/brake/questions/regen-behaviour.ts'
import { regeneration } from '../../src/brake/questions/regeneration.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { type ControllerMap, PLAIN_MAP, travelOf } from '../simulator/controller-map.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { makeBuild } from '../simulator/second/build.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { RunTruth } from '../simulator/second/truth-source.ts'
import { simulate } from '../simulator/simulate.ts'
import { TruthAt } from '../simulator/truth-at.ts'

type Input = 'pressure' | 'split' | 'travel'
type Limit = 'none' | 'charge' | 'cell' | 'soc' | 'power'

interface Known {
  readonly ramp: {
    readonly startBar: number
    readonly fullBar: number
    readonly maxNm: number
    readonly liftNm: number
    readonly fadeKmh: readonly [number, number]
  }
  readonly map: ControllerMap
  readonly input: Input
  readonly limit: Limit
  readonly amps: number
  readonly withFile: boolean
  readonly withRequest: boolean
}

function draw(seed: number): Known {
  const random = new Random(seed).fork('known map')
  const input = random.pick<Input>(['pressure', 'pressure', 'pressure', 'split', 'travel'])
  const limit = random.pick<Limit>(['none', 'none', 'none', 'none', 'charge', 'cell', 'soc', 'power'])
  const liftNm = random.chance(0.3) ? 0 : random.between(4, 20)
  const startBar = random.between(0.5, 9)
  const fullBar = Math.max(startBar + 6, random.between(8, 60))
  const low = random.between(2, 6)
  const liftLow = random.between(2, 9)
  const jumps = limit === 'none' && random.chance(0.3)
  return {
    ramp: {
      startBar,
      fullBar,
      maxNm: random.between(40, 100),
      liftNm,
      fadeKmh: [low, low + random.between(4, 11)],
    },
    map: {
      ...PLAIN_MAP,
      form: liftNm === 0 ? 'sum' : random.pick(['sum', 'sum', 'larger', 'replaces'] as const),
      liftFadeKmh: random.chance(0.4) ? [liftLow, liftLow + random.between(4, 14)] : null,
      backBar: random.chance(0.3) ? random.between(0.4, 1.5) : 0,
      step: jumps ? { bar: startBar + random.between(0.5, 8), nm: random.between(18, 32) } : null,
      axis: input === 'travel' ? 'travel' : 'pressure',
      socPercent: limit === 'soc' ? [random.between(55, 70), random.between(85, 95)] : null,
      watts: limit === 'power' ? random.between(8000, 20000) : null,
    },
    input,
    limit,
    amps: random.between(15, 50),
    withFile: random.chance(0.6),
    withRequest: random.chance(0.5),
  }
}

/** A drive of one model with the known map, and what was true of it. */
function driven(seed: number, known: Known) {
  const faults = () =>
    known.limit === 'charge' ? [{ kind: 'regen-limited', amps: known.amps } as const] : []
  const durationS = [280, 420] as const
  const full = known.limit === 'cell' ? { startSoc: 0.82 } : known.limit === 'soc' ? { startSoc: 0.8 } : {}
  const { ramp } = known
  if (seed % 2 === 1) {
    const base = randomCase({ seed, durationS, faults })
    const cellV = known.limit === 'cell' ? (base.car?.pack?.chemistry === 'lfp' ? 3.42 : 4.1) : null
    const made = simulate({
      ...base,
      car: {
        ...base.car,
        pack: { ...base.car?.pack, ...full },
        brake: { ...base.car?.brake, ...ramp, map: { ...known.map, cellV } },
      },
    })
    const { brake, road } = made.trace.car
    return {
      ...made,
      zeroBar: brake.sensorZeroBar,
      friction: brake.frictionNewtonBar / (1.04 * road.massKg),
      at: (id: string, timeS: Float64Array) => new TruthAt(made.trace).values(id, timeS),
    }
  }
  const base = secondCase({ seed, durationS, faults })
  const cellV = known.limit === 'cell' ? (base.build?.cells?.chemistry === 'lfp' ? 3.42 : 4.1) : null
  const build = {
    ...base.build,
    cells: { ...base.build?.cells, ...full },
    brake: { ...base.build?.brake, ...ramp, map: { ...known.map, cellV } },
  }
  const made = simulateSecond({ ...base, build })
  const { brake, road } = makeBuild(build)
  return {
    ...made,
    zeroBar: brake.zeroBar,
    friction: brake.frictionNewtonBar / (1.05 * road.massKg),
    at: (id: string, timeS: Float64Array) => new RunTruth(made.run, new Random(1)).values(id, timeS),
  }
}

type Driven = ReturnType<typeof driven>

/** The drive as its log would be with another brake sensor, or without the torque request. */
function logged({ drive, at, zeroBar }: Driven, { input, withRequest }: Known, random: Random): Drive {
  const channels = new Map(drive.channels)
  if (!withRequest) channels.delete('torque_request')
  const pressure = channels.get('brake_pressure')!
  if (input !== 'pressure') channels.delete('brake_pressure')
  const put = (id: Channel['id'], value: (bar: number) => number): void => {
    const values = at('brake_pressure', pressure.timeS).map((bar) => value(bar - zeroBar))
    channels.set(id, { ...pressure, id, values })
  }
  if (input === 'travel')
    put('brake_travel', (bar) => Math.round(10 * (travelOf(bar) + 0.25 * random.normal())) / 10)
  if (input === 'split') {
    put('brake_pressure_front', (bar) => bar + zeroBar + 0.1 * random.normal())
    put(
      'brake_pressure_rear',
      (bar) => (bar < 25 ? bar : 25 + 0.4 * (bar - 25)) + zeroBar + 0.1 * random.normal(),
    )
  }
  return { ...drive, channels }
}

interface Line {
  readonly seed: number
  readonly known: Known
  readonly form: string | null
  readonly trueForm: string | null
  /** Per figure: read, ±, bound, truth, and whether it holds. */
  readonly figures: Readonly<Record<string, readonly [number, number | null, string, number, boolean]>>
  /** Seconds that truly lay beyond the map's end above the fades, and what bound the most was given. */
  readonly beyondS: number
  readonly bound: string | null
  readonly share: readonly [read: number | null, truth: number]
  readonly loud: readonly string[]
}

function one(seed: number): Line {
  const known = draw(seed)
  const made = driven(seed, known)
  const drive = logged(made, known, new Random(seed).fork('sensor'))
  const facts = gatherFacts(drive, vehicleOf(made.vehicle, known))
  const fit = facts.once(regenMap)
  const { ramp, map } = known
  const x = known.input === 'travel' ? travelOf : (bar: number) => bar
  const top = map.form === 'sum' ? ramp.maxNm + ramp.liftNm : Math.max(ramp.maxNm, ramp.liftNm)
  const [xs, xf] = [x(ramp.startBar), x(ramp.fullBar)]
  const jump = map.step
  const end = jump ? Math.max(x(jump.bar), xs + Math.max(0, 1 - jump.nm / ramp.maxNm) * (xf - xs)) : xf
  const figures: Record<string, [number, number | null, string, number, boolean]> = {}
  const add = (name: string, figure: Figure | null | undefined, truth: number): void => {
    if (!figure) return
    const { value, plusMinus, bound } = figure
    const holds =
      bound === 'at-least'
        ? value <= truth * 1.005
        : bound === 'at-most'
          ? value >= truth * 0.995
          : Math.abs(value - truth) <= (plusMinus ?? 0)
    figures[name] = [value, plusMinus, bound, truth, holds]
  }
  add('start', fit?.start, jump && map.form === 'sum' && jump.bar < ramp.startBar ? x(jump.bar) : xs)
  add('full', fit?.full, end)
  add('most', fit?.maxNm, top)
  add('lift', fit?.liftNm, ramp.liftNm)
  add('brake part', fit?.brakeNm, top - ramp.liftNm)
  add('fade to', fit?.fadeKmh?.[1], ramp.fadeKmh[1])
  add('fade from', fit?.fadeKmh?.[0], ramp.fadeKmh[0])
  const split = facts.once(brakeSplit)
  if (split && split.perPress !== null && known.input !== 'travel')
    add(
      'friction',
      { value: split.perPress, plusMinus: split.perPressPlusMinus, bound: 'exact' },
      made.friction,
    )
  const limited = facts.once(regenLimited)
  return {
    seed,
    known,
    form: fit?.form ?? null,
    trueForm: ramp.liftNm > 0 ? map.form : null,
    figures,
    beyondS: beyond(made, known, end),
    bound: fit?.maxNm.bound ?? null,
    share: [
      limited && limited.brakingS > 2 ? limited.sharePercent : null,
      100 * made.truth.regen.limitedShare,
    ],
    loud: [regeneration, regenBehaviour]
      .flatMap((part) => part(facts).findings)
      .filter((each) => each.severity !== 'note')
      .map(
        (each) =>
          `${each.kind} ${each.value?.toFixed(1)}${each.kind === 'regen-limited' ? ` ${each.subject.name}` : ''}`,
      ),
  }
}

function vehicleOf(vehicle: Vehicle, { withFile, map }: Known): Vehicle {
  if (!withFile) return {}
  // a file knows the ramp that somebody set, not what the controller makes of it
  return map.axis === 'travel'
    ? { ...vehicle, brake: { ...vehicle.brake, regen_input: ['travel'] } }
    : vehicle
}

/** Seconds moving above the fades with the press clearly beyond the map's end. */
function beyond(made: Driven, { ramp, input, map }: Known, end: number): number {
  const x = input === 'travel' ? travelOf : (bar: number) => bar
  const dt = 0.05
  const n = Math.floor((made.drive.durationS ?? 400) / dt)
  const timeS = Float64Array.from({ length: n }, (_, i) => i * dt)
  const bar = made.at('brake_pressure', timeS)
  const kmh = made.at('speed', timeS)
  const fast = Math.max(ramp.fadeKmh[1], map.liftFadeKmh?.[1] ?? 0)
  let seconds = 0
  for (let i = 0; i < n; i++)
    if (kmh[i]! > fast + 1 && x(bar[i]! - made.zeroBar) > end + 0.1 * (end - x(ramp.startBar))) seconds += dt
  return seconds
}

function sum(lines: readonly Line[]): void {
  const of = (what: string, ok: number, all: number): void => console.log(`  ${what}: ${ok} of ${all}`)
  const lifted = lines.filter((each) => each.trueForm && each.bound)
  of('map read', lines.filter((each) => each.bound).length, lines.length)
  of('form told rightly', lifted.filter((each) => each.form === each.trueForm).length, lifted.length)
  of('form left open', lifted.filter((each) => each.form === null).length, lifted.length)
  of(
    'form told wrongly',
    lines.filter((each) => each.form !== null && each.form !== each.trueForm).length,
    lines.length,
  )
  for (const name of ['start', 'full', 'most', 'lift', 'brake part', 'fade from', 'fade to', 'friction'])
    for (const bound of ['exact', 'at-least', 'at-most']) {
      const all = lines.flatMap((each) => (each.figures[name]?.[2] === bound ? [each.figures[name]!] : []))
      if (all.length > 0) of(`${name}, ${bound}`, all.filter((each) => each[4]).length, all.length)
    }
  const ended = lines.filter((each) => each.bound && each.known.limit === 'none' && each.beyondS > 3)
  const open = lines.filter((each) => each.bound && each.beyondS === 0)
  of('end reached, most exact', ended.filter((each) => each.bound === 'exact').length, ended.length)
  of('end not reached, most a bound', open.filter((each) => each.bound !== 'exact').length, open.length)
  for (const limit of ['none', 'charge', 'cell', 'soc', 'power']) {
    const all = lines.filter((each) => each.known.limit === limit && each.share[0] !== null)
    if (all.length > 0)
      of(
        `share within 5 points, ${limit}`,
        all.filter((each) => Math.abs(each.share[0]! - each.share[1]) <= 5).length,
        all.length,
      )
  }
  const stepped = lines.filter((each) => (each.known.map.step?.nm ?? 0) > 18 && each.bound)
  of(
    'jump over 18 N·m told',
    stepped.filter((each) => each.loud.some((kind) => kind.startsWith('regen-step'))).length,
    stepped.length,
  )
  of(
    'jump told where none is',
    lines.filter((each) => !each.known.map.step && each.loud.some((kind) => kind.startsWith('regen-step')))
      .length,
    lines.length,
  )
}

const [file, count, from] = process.argv.slice(2)
if (!file) throw new Error('a file for the results is wanted')
const there = existsSync(file)
  ? readFileSync(file, 'utf8')
      .trim()
      .split('\n')
      .filter(Boolean)
      .map((line) => JSON.parse(line) as Line)
  : []
const lines = new Map(there.map((each) => [each.seed, each]))
for (let seed = Number(from ?? 1); seed < Number(from ?? 1) + Number(count ?? 0); seed++) {
  if (lines.has(seed)) continue
  const line = one(seed)
  lines.set(seed, line)
  appendFileSync(file, `${JSON.stringify(line)}\n`)
}
for (const each of lines.values()) {
  const wrong = Object.entries(each.figures).filter(([, figure]) => !figure[4])
  const { known } = each
  const text = wrong.map(
    ([name, [value, pm, bound, truth]]) =>
      `${name} ${bound} ${value.toFixed(2)} \u00b1 ${pm?.toFixed(2)} for ${truth.toFixed(2)}`,
  )
  const share = each.share[0] === null ? '' : `share ${each.share[0].toFixed(0)}/${each.share[1].toFixed(0)}`
  console.log(
    `${each.seed} ${known.map.form}${known.ramp.liftNm ? ` lift ${known.ramp.liftNm.toFixed(0)}` : ''} ${known.ramp.startBar.toFixed(1)}-${known.ramp.fullBar.toFixed(0)} bar ${known.ramp.maxNm.toFixed(0)} N·m ${known.input} ${known.limit}${known.map.step ? ` step ${known.map.step.nm.toFixed(0)} at ${known.map.step.bar.toFixed(1)}` : ''}${known.map.backBar ? ` play ${known.map.backBar.toFixed(1)}` : ''}${known.map.liftFadeKmh ? ' two fades' : ''}${known.withFile ? '' : ' bare'}${known.withRequest ? '' : ' no request'}: read ${each.form ?? 'open'} ${each.bound} beyond ${each.beyondS.toFixed(0)} s ${share} | ${text.join('; ')} | ${each.loud.join(', ')}`,
  )
}
sum([...lines.values()])

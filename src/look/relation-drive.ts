import { correlation } from '../math/correlation.ts'
import { POINTS } from './grid.ts'
import { type Pack, type Propose, r2, type Seen, stepsOf, usualFactor } from './relation-parts.ts'

/** Current by sag, speeds by proportion, torque by power. */
export function proposeDrive(left: () => Seen[], pack: Pack, cells: number, propose: Propose): void {
  const fast = stepsOf(pack.volts)
  const currents = left()
    .map((seen) => ({ seen, ...correlation(seen.steps, fast) }))
    .filter(
      ({ r, seen }) => Math.abs(r) > 0.75 && seen.low < -0.03 * seen.high && seen.candidate.place.signed,
    )
    .sort((a, b) => Math.abs(b.r) - Math.abs(a.r))
  const [main] = currents
  if (!main) return
  const factor = ampereFactor(
    (-main.slope / cells) * 1000,
    Math.max(Math.abs(main.seen.high), Math.abs(main.seen.low)),
  )
  const sign = main.slope < 0 ? 1 : -1
  const ampere = main.seen.grid.map((each) => each * factor * sign)
  const like = currents.filter(
    ({ seen, r }) => seen !== main.seen && r2(seen.grid, main.seen.grid) > 0.985 && r * main.r > 0,
  )
  const speeds = speedsAmong(left())
  propose(
    main.seen,
    'pack_current',
    factor * sign,
    0,
    0.55,
    `the pack sags with it (r ${main.r.toFixed(2)}); scale by what cells and cars usually show`,
    'inverter_dc_current',
  )
  if (!speeds) return
  const { motor, road } = speeds
  const rpm = usualFactor([1, 0.5, 0.25, 0.1, 2, 10], motor.high, 6500, 1.3)
  const kmh = usualFactor([0.1, 0.05, 0.01, 1, 0.02, 0.5], road.high, 75, 1.2)
  if (rpm !== null) {
    propose(
      motor,
      'motor_speed',
      rpm,
      0,
      0.6,
      'in one proportion with another speed, at rest together; scale by what motors usually turn',
      'speed',
    )
    const power = pack.volts.map((volt, p) => volt * ampere[p]!)
    const others = left().filter((seen) => !like.some((each) => each.seen === seen))
    proposeTorque(
      others,
      power,
      motor.grid.map((each) => each * rpm * (Math.PI / 30)),
      propose,
    )
  }
  if (kmh !== null)
    propose(
      road,
      'speed',
      kmh,
      0,
      0.5,
      'in one proportion with another speed, at rest together; scale by how fast cars usually go',
      'motor_speed',
    )
  for (const { seen, slope } of like.slice(0, 1)) {
    const same = correlation(seen.grid, main.seen.grid).slope * factor
    const f = usualFactor([0.1, 1, 0.5, 0.25, 0.01, 0.05, 0.2], 1, Math.abs(same), 0.2)
    if (f !== null)
      propose(
        seen,
        'inverter_dc_current',
        f * (slope < 0 ? 1 : -1),
        0,
        0.5,
        'moves as the pack current does',
        'pack_current',
      )
  }
}

/** Amperes a count: a cell has some milliohms, a car draws some hundred amperes. Common practice, no source. */
function ampereFactor(milliohm: number, peak: number): number {
  const far = (each: number): number =>
    (Math.log2(Math.abs(milliohm) / each / 1.4) / 1.6) ** 2 +
    (Math.log2((peak * each) / 220) / 1.1) ** 2 +
    ([0.1, 1, 0.5].includes(each) ? 0 : 0.7)
  return [0.1, 1, 0.5, 0.01, 0.25, 0.05, 0.2].sort((a, b) => far(a) - far(b))[0]!
}

/** Numbers that times motor speed [rad/s] are the pack's power [W]; of two the one that leads is the request. */
function proposeTorque(
  others: readonly Seen[],
  watt: Float64Array,
  turning: Float64Array,
  propose: Propose,
): void {
  const power = others
    .filter((seen) => seen.candidate.place.signed && seen.low < 0 && seen.high > 0)
    .map((seen) => {
      const product = seen.grid.map((each, p) => each * turning[p]!)
      return { seen, ...correlation(product, watt) }
    })
    .filter(({ r }) => r > 0.93)
    .sort((a, b) => b.r - a.r)
    .slice(0, 2)
  const scaled = power.flatMap((each) => {
    const f = usualFactor([0.1, 1, 0.5, 0.05, 0.01, 0.2, 0.25, 0.02], 1, each.slope * 0.92, 0.6)
    return f === null ? [] : [{ ...each, f }]
  })
  const [a, b] = scaled
  if (a && b) {
    // what asks moves before what answers
    const [asks, answers] = leads(a.seen, b.seen) ? [a, b] : [b, a]
    propose(
      answers.seen,
      'torque',
      answers.f,
      0,
      0.6,
      `times motor speed it is the pack's power (r ${answers.r.toFixed(2)})`,
      'torque_request',
    )
    propose(asks.seen, 'torque_request', asks.f, 0, 0.5, `as torque, a little earlier`, 'torque')
  } else if (a)
    propose(
      a.seen,
      'torque',
      a.f,
      0,
      0.6,
      `times motor speed it is the pack's power (r ${a.r.toFixed(2)})`,
      'torque_request',
    )
}

/** Two numbers in proportion, never below zero by more than noise, at zero for some of the time. */
function speedsAmong(left: readonly Seen[]): { motor: Seen; road: Seen } | null {
  const still = left.filter(
    ({ low, high, grid }) =>
      high > 100 &&
      low > -0.03 * high &&
      grid.filter((each) => Math.abs(each) < 0.01 * high).length > 0.03 * POINTS,
  )
  let best: { motor: Seen; road: Seen } | null = null
  let most = 0.995
  for (const a of still)
    for (const b of still) {
      if (a === b || a.high < b.high || a.candidate.spot === b.candidate.spot) continue
      const fit = r2(a.grid, b.grid)
      if (fit <= most) continue
      most = fit
      best = { motor: a, road: b }
    }
  return best
}

/** Does `a` move before `b`? By the correlation of steps one grid point either way. */
function leads(a: Seen, b: Seen): boolean {
  const shifted = (by: number): number => {
    const x = b.steps.map((_, p) => b.steps[p + by] ?? Number.NaN)
    const { r } = correlation(a.steps, x)
    return Number.isFinite(r) ? r : 0
  }
  return shifted(1) >= shifted(-1)
}

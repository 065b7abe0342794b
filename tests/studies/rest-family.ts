import type { Drive } from '../../shared/drive.ts'
import type { Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { asDrive } from '../simulator/as-drive.ts'
import type { Samples } from '../simulator/measure.ts'
import { Random } from '../simulator/random.ts'
import { randomCase } from '../simulator/random-case.ts'
import { secondCase } from '../simulator/second/random-second.ts'
import { simulateSecond } from '../simulator/second/simulate-second.ts'
import { type Measured, simulate } from '../simulator/simulate.ts'
import { withPlugNamed } from './start-family.ts'
import type { Model } from './two-models.ts'

/**
 * Logs of healthy cars that nobody starts, or that were driven before: a charge, parked asleep, the key alone, a drive
 * with its rest, a drive with its charge; the last two whole, and begun in mid drive. Random cars and boxes.
 */
export const RESTS = [
  'charge',
  'asleep',
  'key alone',
  'drive and rest',
  'drive, begun in mid drive',
  'drive and charge',
  'drive and charge, begun in mid drive',
] as const
export type Rest = (typeof RESTS)[number]

export interface RestCase {
  readonly name: string
  readonly rest: Rest
  readonly drive: Drive
  readonly vehicle: Vehicle
}

/** One case. Same arguments, same case; every second one has its plug named in words that prove it. */
export function restCase(model: Model, rest: Rest, seed: number): RestCase {
  const random = new Random(seed).fork(`${model} ${rest}`)
  const made = model === 'first' ? first(rest, seed, random) : second(rest, seed, random)
  const whole = rest.endsWith('mid drive')
    ? asDrive(begunAt(made.samples, random.between(40, 70)), made.vehicle)
    : made.drive
  const drive = seed % 2 === 0 ? withPlugNamed(whole) : whole
  return { name: `${model}, ${rest}, seed ${seed}`, rest, drive, vehicle: made.vehicle }
}

const drives = (rest: Rest): boolean => rest.startsWith('drive')
const charges = (rest: Rest): boolean => rest.includes('charge')

function first(rest: Rest, seed: number, random: Random): Measured {
  const options = randomCase({ seed, durationS: [90, 140] })
  const charge = { durationS: random.between(90, 240), amps: random.between(8, 40) }
  return simulate({
    ...options,
    ...(drives(rest) ? {} : { route: null }),
    driver: {
      ...options.driver,
      uses: drives(rest) ? 'starts' : rest === 'key alone' ? 'key-alone' : 'nothing',
      attempts: 1,
      ...(rest === 'key alone' ? { patienceS: random.between(8, 100) } : {}),
      restS: rest === 'asleep' ? random.between(60, 240) : random.between(8, 60),
      charge: charges(rest) ? charge : null,
    },
  })
}

function second(rest: Rest, seed: number, random: Random): Measured {
  const options = secondCase({ seed, durationS: [90, 140] })
  const afterS = random.between(8, 40)
  const durationS = random.between(90, 240)
  return simulateSecond({
    ...options,
    ...(drives(rest) ? {} : { road: null }),
    run: {
      keyOnS: drives(rest) || rest === 'key alone' ? random.between(3, 12) : Number.POSITIVE_INFINITY,
      restS: charges(rest) ? afterS + durationS + random.between(5, 30) : random.between(60, 200),
      ...(rest === 'key alone' ? { keyAloneS: random.between(8, 100) } : {}),
      ...(charges(rest) ? { charge: { afterS, durationS, amps: random.between(8, 40) } } : {}),
    },
  })
}

/** The samples as a log that was begun later. */
function begunAt(samples: readonly Samples[], fromS: number): Samples[] {
  return samples.map((each) => {
    const found = each.timeS.findIndex((t) => t >= fromS)
    const keep = found < 0 ? each.timeS.length : found
    return {
      ...each,
      timeS: each.timeS.slice(keep).map((t) => t - fromS),
      values: each.values.slice(keep),
      fresh: each.fresh?.slice(keep) ?? null,
    }
  })
}

/** What the review of such a log says that nobody should be told; empty where it is sound. */
export function wrongWords({ rest, drive, vehicle }: RestCase): string[] {
  const review = reviewDrive(drive, vehicle)
  const keyed = rest === 'key alone'
  const wrong = review.findings.flatMap((each) =>
    each.severity === 'note' || (keyed && waits(each))
      ? []
      : [`${each.severity} ${each.kind} ${each.subject.name ?? each.subject.index ?? ''}: ${each.headline}`],
  )
  for (const { kind, headline } of review.findings)
    if (kind === 'charge-plug-in' || (kind === 'no-drive' && !keyed)) wrong.push(`${kind}: ${headline}`)
  if (review.verdict.state === 'cannot-drive') wrong.push(review.verdict.sentence)
  if (review.starts.some(({ first_failed }) => first_failed !== null) && !keyed)
    wrong.push(`a start failed at ${review.starts.map(({ first_failed }) => first_failed).join(', ')}`)
  for (const { why } of review.questions) if (/broke off/.test(why)) wrong.push(why)
  return [...new Set(wrong)]
}

/** The contract's word for a key alone where nothing in the log ever came through. */
const waits = ({ kind, severity, headline }: Review['findings'][number]): boolean =>
  kind === 'no-drive' &&
  severity === 'attention' &&
  headline.includes('whether a start was asked for cannot be told')

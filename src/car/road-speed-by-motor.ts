import type { Channel } from '../../shared/drive.ts'
import type { Facts } from '../facts/facts.ts'
import { freshSamples } from '../samples/fresh-samples.ts'
import { heldAt } from '../samples/on-one-clock.ts'
import { gearChannel } from './gear-channel.ts'

/** km/h per rpm by the vehicle file; null without radius or with a gearbox of several ratios. */
export function fileKmhPerRpm(facts: Facts): number | null {
  const { wheel_radius_m: radius, gear_ratio: ratio } = facts.vehicle.car ?? {}
  const one = Array.isArray(ratio) ? (ratio.length === 1 ? ratio[0] : undefined) : ratio
  return radius === undefined || one === undefined ? null : kmhPerRpm(radius, one)
}

/**
 * Road speed from the motor's where no other is logged, km/h: motor speed · 2π · wheel radius / gear ratio. Of several
 * ratios (first gear first) the gear's own by the column of gears, NaN out of gear; null where they cannot be told.
 */
export function roadSpeedByMotor(facts: Facts): Channel | null {
  const motor = facts.drive.channels.get('motor_speed')
  if (!motor) return null
  const { timeS, values } = freshSamples(motor)
  const scaled = (per: (i: number) => number): Channel => ({
    ...motor,
    id: 'motor_speed',
    timeS,
    values: values.map((rpm, i) => Math.abs(rpm) * per(i)),
  })
  const one = fileKmhPerRpm(facts)
  if (one !== null) return scaled(() => one)
  const { wheel_radius_m: radius, gear_ratio: ratios } = facts.vehicle.car ?? {}
  const gear = gearChannel(facts)
  if (radius === undefined || !Array.isArray(ratios) || !gear) return null
  const held = heldAt(gear, timeS)
  return scaled((i) => {
    const ratio = ratios[held[i]! - 1]
    return ratio === undefined ? Number.NaN : kmhPerRpm(radius, ratio)
  })
}

const kmhPerRpm = (radiusM: number, ratio: number): number => ((2 * Math.PI * radiusM) / ratio / 60) * 3.6

import type { Finding } from '../../../shared/review.ts'
import { brakeTrace } from '../../car/brake-trace.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { LOCAL_RULES } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import { type Facts, unlogged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { brakeApplications } from '../models/brake-applications.ts'
import { brakeDrag } from '../models/brake-drag.ts'
import { brakeSplit } from '../models/brake-split.ts'
import { kineticWh } from '../models/motion-energy.ts'
import { regenMap } from '../models/regen-map.ts'
import { regenStep } from '../models/regen-step.ts'

const SPLIT = 'How do road load, regeneration and friction share the braking?'
const DRAG = 'Does the brake let go when it is released?'
/** Left-over drag that a hand on the wheel would feel, m/s². Common practice, no source. */
const DRAG_MS2 = 0.25

/**
 * How does the car brake?
 *
 * Model:  see `brakeSplit` (deceleration = perNm · torque + friction · (pressure − bite) + rolling + drag · v²) and
 *         `brakeDrag`; energy regenerated against ½ m v² of the vehicle file's mass.
 * Reads:  speed [km/h], torque [N·m], brake input, accelerator [%].
 * Gives:  figures in the answers; `brake-drag` [m/s²] as a note; says where friction cannot be told from regeneration.
 * Biased by: slopes that last as long as a press; torque that the inverter estimates wrong by its tolerance; a drag that
 *         comes with every pull away is read in part as weaker torque, so its figure is a lower bound.
 * Blind:  the road's slope (its slow part is taken out, its quick part is noise); a drag that lasts the whole drive looks
 *         like rolling resistance.
 * Source: Newton; limit: common practice, no source.
 */
export function braking(facts: Facts): Answer {
  const split = facts.once(brakeSplit)
  const trace = facts.once(brakeTrace)
  const missing = unlogged(facts, ['brake_pressure', 'torque', 'speed'])
  const toAssess =
    missing.length > 0
      ? 'Log brake pressure, torque and speed at 10 Hz or more.'
      : toDrive('brake from 50 km/h, lightly and firmly in turn', 'after ten stops')
  if (!split || !trace || trace.input === 'none')
    return {
      questions: [SPLIT, DRAG].map((each) =>
        notAssessed(
          'brake',
          each,
          missing,
          missing.length > 0 ? `not logged: ${missing.join(', ')}` : 'too little driving to read',
          toAssess,
          'm/s²',
        ),
      ),
      findings: [],
    }
  const unit = trace.input === 'travel' ? '%' : 'bar'
  const fit = facts.once(regenMap)
  const slope = fit ? (split.perNm * fit.map.brakeNm) / Math.max(1e-6, fit.map.full - fit.map.start) : null
  const step = facts.once(regenStep)
  const parts = [
    `road load ${split.roll.toFixed(2)} ± ${split.rollPlusMinus.toFixed(2)} m/s² and ${(split.drag * 1e4).toFixed(2)} ± ${(split.dragPlusMinus * 1e4).toFixed(2)} m/s² at 100 km/h`,
    ...(slope === null
      ? []
      : [
          `regeneration ${slope.toFixed(3)} ± ${((slope * split.perNmPlusMinus) / split.perNm).toFixed(3)} m/s² per ${unit} between start and full`,
        ]),
    split.perPress === null
      ? `friction not separable: ${split.notSeparable}`
      : `friction ${split.perPress.toFixed(3)} ± ${(split.perPressPlusMinus ?? 0).toFixed(3)} m/s² per ${unit} from ${split.bite.toFixed(1)} ${unit} on`,
    ...(fit?.fadeKmh
      ? [
          `friction takes over between ${fit.fadeKmh[1].value.toFixed(0)} and ${fit.fadeKmh[0].value.toFixed(0)} km/h`,
        ]
      : []),
    ...(step && step.jumpNm > 0 ? [`largest jump felt ${(step.jumpNm * split.perNm).toFixed(2)} m/s²`] : []),
    ...energyBound(facts),
  ]
  const why = parts.join('; ')
  const question =
    split.perPress === null
      ? notAssessed(
          'brake',
          SPLIT,
          missing,
          why,
          toDrive(
            'brake at equal pressure fast and slow, so that the fade tells friction from regeneration',
            'after five stops',
          ),
          `m/s² per ${unit}`,
        )
      : assessed('brake', SPLIT, false, why, {
          value: 1.3 * (split.perPressPlusMinus ?? 0),
          unit: `m/s² per ${unit}`,
        })
  return { questions: [question, dragQuestion(facts).question], findings: dragQuestion(facts).findings }
}

/** More regenerated than the car had to give on the level is a wrong sign, scale or mass: said, not accused. */
function energyBound(facts: Facts): string[] {
  const mass = facts.vehicle.car?.mass_laden_kg ?? facts.vehicle.car?.mass_kg
  if (mass === undefined) return []
  let had = 0
  let got = 0
  for (const each of facts.once(brakeApplications)) {
    if (each.chargedWh === null || !Number.isFinite(each.fromKmh + each.toKmh)) continue
    had += kineticWh(mass, each.fromKmh, each.toKmh)
    got += each.chargedWh
  }
  if (!(had > 1)) return []
  const share = (100 * got) / had
  return [
    `${got.toFixed(0)} Wh of ${had.toFixed(0)} Wh kinetic energy came back in braking (${share.toFixed(0)} %)${share > 105 ? ', more than the car had: mass, sign or scale of the current is wrong' : ''}`,
  ]
}

function dragQuestion(facts: Facts): Answer & { question: Answer['questions'][number] } {
  const drag = facts.once(brakeDrag)
  if (!drag) {
    const question = notAssessed(
      'brake',
      DRAG,
      [],
      'too few stretches right after a release',
      toDrive('brake from 50 km/h to 30 km/h and go on without braking', 'after ten times'),
      'm/s²',
    )
    return { question, questions: [question], findings: [] }
  }
  const found = drag.dragMs2 - drag.plusMinusMs2 > DRAG_MS2
  const question = assessed(
    'brake',
    DRAG,
    found,
    `${drag.dragMs2.toFixed(2)} ± ${drag.plusMinusMs2.toFixed(2)} m/s² left in the seconds after ${drag.releases} releases`,
    { value: DRAG_MS2 + drag.plusMinusMs2, unit: 'm/s²' },
  )
  const trace = facts.once(brakeTrace)!
  const findings: Finding[] = found
    ? [
        finding({
          kind: 'brake-drag',
          subject: { type: 'brake' },
          span_s: [trace.applications[0]![0], trace.applications[trace.applications.length - 1]![1]],
          value: drag.dragMs2,
          unit: 'm/s²',
          plusMinus: drag.plusMinusMs2,
          bound: 'at-least',
          limit: { attention: DRAG_MS2, stop: null, unit: 'm/s²', source: 'common practice, no source' },
          severity: 'note',
          headline: `After a release at least ${drag.dragMs2.toFixed(2)} m/s² of braking is left`,
          reason:
            'In the five seconds after the brake is released the car slows more than its road load and torque explain.',
          next_step:
            'Lift the car and turn each wheel by hand after a press and release; look for pads, pistons or a pedal that do not return.',
          cautions: [LOCAL_RULES],
          channels: trace.channels,
        }),
      ]
    : []
  return { question, questions: [question], findings }
}

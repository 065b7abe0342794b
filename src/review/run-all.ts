import { z } from 'zod'
import type { Drive } from '../../shared/drive.ts'
import type { Limits } from '../../shared/limits.ts'
import { LIMITS } from '../../shared/limits.ts'
import type { Reading } from '../../shared/reading.ts'
import { assumptionSchema, findingSchema, questionSchema, reviewSchema } from '../../shared/review.ts'
import { packLayout, type Vehicle } from '../../shared/vehicle.ts'
import { brakeSignal } from '../brake/questions/brake-signal.ts'
import { braking } from '../brake/questions/braking.ts'
import { lamps } from '../brake/questions/lamps.ts'
import { regenBehaviour } from '../brake/questions/regen-behaviour.ts'
import { regenLock } from '../brake/questions/regen-lock.ts'
import { regeneration } from '../brake/questions/regeneration.ts'
import { selectorMoves } from '../brake/questions/selector-moves.ts'
import { stopLampAnalysis } from '../brake/questions/stop-lamp.ts'
import { wheelSlipAnalysis } from '../brake/questions/wheel-slip.ts'
import { chargeInterrupted } from '../charge/questions/charge-interrupted.ts'
import { chargeSlow } from '../charge/questions/charge-slow.ts'
import { chargeCount } from '../current/questions/charge-count.ts'
import { chargeLimits } from '../current/questions/charge-limits.ts'
import { currentSensor } from '../current/questions/current-sensor.ts'
import { energy } from '../current/questions/energy.ts'
import { energyBalance } from '../current/questions/energy-balance.ts'
import { otherLoadsFigure } from '../current/questions/other-loads.ts'
import type { Analysis, Answer } from '../facts/answer.ts'
import { notAssessed } from '../facts/answer.ts'
import type { Facts } from '../facts/facts.ts'
import { chargeWhenCold } from '../heat/questions/charge-when-cold.ts'
import { coolant } from '../heat/questions/coolant.ts'
import { coolantPump } from '../heat/questions/coolant-pump.ts'
import { cooling } from '../heat/questions/cooling.ts'
import { coolingOrder } from '../heat/questions/cooling-order.ts'
import { driveTemperatures } from '../heat/questions/drive-temperatures.ts'
import { heatLimit } from '../heat/questions/heat-limit.ts'
import { selfHeating } from '../heat/questions/self-heating.ts'
import { swappedSensors } from '../heat/questions/swapped-sensors.ts'
import { temperatures } from '../heat/questions/temperatures.ts'
import { busHealth } from '../log/questions/bus-health.ts'
import { clockRepairs } from '../log/questions/clock-repairs.ts'
import { logGaps } from '../log/questions/log-gaps.ts'
import { loom } from '../log/questions/loom.ts'
import { unitResets } from '../log/questions/unit-resets.ts'
import { unitsInDoubt } from '../log/questions/units-in-doubt.ts'
import { vehicleFile } from '../log/questions/vehicle-file.ts'
import { balance } from '../pack/questions/balance.ts'
import { boxLinks } from '../pack/questions/box-links.ts'
import { cellReadings } from '../pack/questions/cell-readings.ts'
import { cells } from '../pack/questions/cells.ts'
import { joints } from '../pack/questions/joints.ts'
import { mainPath } from '../pack/questions/main-path.ts'
import { selfDischarge } from '../pack/questions/self-discharge.ts'
import { senseLeads } from '../pack/questions/sense-leads.ts'
import { stringShare } from '../pack/questions/string-share.ts'
import { voltageLimits } from '../pack/questions/voltage-limits.ts'
import { weakCells } from '../pack/questions/weak-cells.ts'
import { pedalTorque } from '../pedal/questions/pedal-torque.ts'
import { pedalTracks } from '../pedal/questions/pedal-tracks.ts'
import { releasedReading } from '../pedal/questions/released-reading.ts'
import { torqueLag } from '../pedal/questions/torque-lag.ts'
import { torqueReleased } from '../pedal/questions/torque-released.ts'
import { torqueSignsAgree } from '../pedal/questions/torque-signs.ts'
import { torqueUnrequested } from '../pedal/questions/torque-unrequested.ts'
import { chargeIsolation } from '../start/questions/charge-isolation.ts'
import { chargeStart } from '../start/questions/charge-start.ts'
import { checkSheet } from '../start/questions/check-sheet.ts'
import { contactors } from '../start/questions/contactors.ts'
import { driveLost } from '../start/questions/drive-lost.ts'
import { faultCodes } from '../start/questions/fault-codes.ts'
import { faultReported } from '../start/questions/fault-reported.ts'
import { isolation } from '../start/questions/isolation.ts'
import { linkVoltage } from '../start/questions/link-voltage.ts'
import { loads } from '../start/questions/loads.ts'
import { loops } from '../start/questions/loops.ts'
import { lvBattery } from '../start/questions/lv-battery.ts'
import { precharge } from '../start/questions/precharge.ts'
import { prechargeTime } from '../start/questions/precharge-time.ts'
import { pullInDips } from '../start/questions/pull-in-dips.ts'
import { startSteps } from '../start/questions/start-chain.ts'
import { supply } from '../start/questions/supply-dcdc.ts'
import { timed } from './profile.ts'
import { tidy } from './tidy.ts'

/** Every analysis, in the order in which their questions are printed. Adding one: write the file, add it here. */
export const ANALYSES: readonly Analysis[] = [
  { name: 'start chain', run: startSteps },
  { name: 'precharge', run: precharge },
  { name: 'precharge time', run: prechargeTime },
  { name: 'link voltage', run: linkVoltage },
  { name: 'contactors', run: contactors },
  { name: 'loops', run: loops },
  { name: 'pull-in dips', run: pullInDips },
  { name: 'drive lost', run: driveLost },
  { name: 'isolation', run: isolation },
  { name: 'isolation while plugged in', run: chargeIsolation },
  { name: 'reported faults', run: faultReported },
  { name: 'charge start', run: chargeStart },
  { name: 'charge slow', run: chargeSlow },
  { name: 'charge interrupted', run: chargeInterrupted },
  { name: 'fault codes', run: faultCodes },
  { name: 'check sheet', run: checkSheet },
  { name: 'joints', run: joints },
  { name: 'weak cells', run: weakCells },
  { name: 'sense leads', run: senseLeads },
  { name: 'balance', run: balance },
  { name: 'self-discharge', run: selfDischarge },
  { name: 'cell readings', run: cellReadings },
  { name: 'cells', run: cells },
  { name: 'cooling', run: cooling },
  { name: 'heat limit', run: heatLimit },
  { name: 'temperatures', run: temperatures },
  { name: 'self-heating', run: selfHeating },
  { name: 'swapped sensors', run: swappedSensors },
  { name: 'coolant', run: coolant },
  { name: 'coolant pump', run: coolantPump },
  { name: 'cooling order', run: coolingOrder },
  { name: 'drive temperatures', run: driveTemperatures },
  { name: 'current sensor', run: currentSensor },
  { name: 'energy', run: energy },
  { name: 'energy balance', run: energyBalance },
  { name: 'other loads', run: otherLoadsFigure },
  { name: 'charge count', run: chargeCount },
  { name: 'voltage limits', run: voltageLimits },
  { name: 'charge limits', run: chargeLimits },
  { name: 'charging when cold', run: chargeWhenCold },
  { name: 'box links', run: boxLinks },
  { name: 'main path', run: mainPath },
  { name: 'string share', run: stringShare },
  { name: '12 V supply', run: supply },
  { name: '12 V battery', run: lvBattery },
  { name: 'heater and cooler', run: loads },
  { name: 'lamps', run: lamps },
  { name: 'selector', run: selectorMoves },
  { name: 'pedal tracks', run: pedalTracks },
  { name: 'the released accelerator', run: releasedReading },
  { name: 'torque with the pedal released', run: torqueReleased },
  { name: 'torque that was not requested', run: torqueUnrequested },
  { name: 'signs of torque and request', run: torqueSignsAgree },
  { name: 'pedal torque', run: pedalTorque },
  { name: 'torque lag', run: torqueLag },
  { name: 'regeneration', run: regeneration },
  { name: 'regeneration behaviour', run: regenBehaviour },
  { name: 'grip under regeneration', run: regenLock },
  { name: 'brake signal', run: brakeSignal },
  { name: 'braking', run: braking },
  { name: 'stop lamp', run: stopLampAnalysis },
  { name: 'wheel slip', run: wheelSlipAnalysis },
  { name: 'log gaps', run: logGaps },
  { name: 'clock repairs', run: clockRepairs },
  { name: 'bus health', run: busHealth },
  { name: 'loom', run: loom },
  { name: 'unit resets', run: unitResets },
  { name: 'vehicle file', run: vehicleFile },
  { name: 'units in doubt', run: unitsInDoubt },
]

/**
 * What analyses may know of a drive; models are computed at most once.
 * @param elsewhere channels that only logs on other clocks hold, with their file
 */
export function gatherFacts(
  drive: Drive,
  vehicle: Vehicle,
  limits: Limits = LIMITS,
  elsewhere: ReadonlyMap<string, string> = new Map(),
  readings: readonly Reading[] = [],
): Facts {
  let cells = 0
  for (const id of drive.channels.keys())
    if (id.startsWith('cell_voltage.')) cells = Math.max(cells, Number(id.slice('cell_voltage.'.length)))
  const known = new Map<unknown, unknown>()
  const facts: Facts = {
    drive,
    vehicle,
    limits,
    elsewhere,
    readings,
    layout: packLayout(vehicle, cells),
    once<T>(model: (facts: Facts) => T): T {
      if (!known.has(model))
        known.set(
          model,
          timed('model', model.name, () => model(facts)),
        )
      return known.get(model) as T
    },
  }
  return facts
}

/** What an answer must look like for the review to hold its schema. */
const answerSchema = z.object({
  questions: z.array(questionSchema),
  findings: z.array(findingSchema),
  sections: reviewSchema.partial().optional(),
  assumptions: z.array(assumptionSchema).optional(),
})

/**
 * Runs each analysis; one that throws, or whose answer breaks the review's schema, becomes a visible `not-assessed`,
 * never a lost review.
 */
export function runAll(facts: Facts, analyses: readonly Analysis[] = ANALYSES): Answer[] {
  return analyses.map((analysis) => {
    try {
      const answer = timed('analysis', analysis.name, () => tidy(analysis.run(facts)))
      const checked = answerSchema.safeParse(answer)
      if (checked.success) return answer
      const [issue] = checked.error.issues
      throw new Error(`${issue?.path.join('.')}: ${issue?.message}`)
    } catch (error) {
      const why = `the analysis "${analysis.name}" broke off: ${error instanceof Error ? error.message : String(error)}`
      return { questions: [notAssessed('log', analysis.name, [], why, null)], findings: [] }
    }
  })
}

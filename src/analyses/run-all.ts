import { z } from 'zod'
import type { Drive } from '../../shared/drive.ts'
import type { Limits } from '../../shared/limits.ts'
import { LIMITS } from '../../shared/limits.ts'
import { assumptionSchema, findingSchema, questionSchema, reviewSchema } from '../../shared/review.ts'
import { packLayout, type Vehicle } from '../../shared/vehicle.ts'
import type { Analysis, Answer, Facts } from './analysis.ts'
import { notAssessed } from './analysis.ts'
import { coolant } from './coolant.ts'
import { cooling } from './cooling.ts'
import { energy } from './energy.ts'
import { precharge } from './precharge.ts'
import { pedalTorque } from './pedal-torque.ts'
import { pedalTracks } from './pedal-tracks.ts'
import { regeneration } from './regeneration.ts'
import { startSteps } from './start-chain.ts'
import { temperatures } from './temperatures.ts'
import { tidy } from './tidy.ts'

/** Every analysis, in the order in which their questions are printed. Adding one: write the file, add it here. */
export const ANALYSES: readonly Analysis[] = [
  { name: 'start chain', run: startSteps },
  { name: 'precharge', run: precharge },
  { name: 'cooling', run: cooling },
  { name: 'temperatures', run: temperatures },
  { name: 'coolant', run: coolant },
  { name: 'energy', run: energy },
  { name: 'pedal tracks', run: pedalTracks },
  { name: 'pedal torque', run: pedalTorque },
  { name: 'regeneration', run: regeneration },
]

/** What analyses may know of a drive; models are computed at most once. */
export function gatherFacts(drive: Drive, vehicle: Vehicle, limits: Limits = LIMITS): Facts {
  let cells = 0
  for (const id of drive.channels.keys())
    if (id.startsWith('cell_voltage.')) cells = Math.max(cells, Number(id.slice('cell_voltage.'.length)))
  const known = new Map<unknown, unknown>()
  const facts: Facts = {
    drive,
    vehicle,
    limits,
    layout: packLayout(vehicle, cells),
    once<T>(model: (facts: Facts) => T): T {
      if (!known.has(model)) known.set(model, model(facts))
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
      const answer = tidy(analysis.run(facts))
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

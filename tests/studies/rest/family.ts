import type { Drive } from '../../../shared/drive.ts'
import type { Finding } from '../../../shared/review.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'
import type { Answer } from '../../../src/facts/answer.ts'
import { ANALYSES, gatherFacts, runAll } from '../../../src/review/run-all.ts'
import type { Model } from '../two-models.ts'

/** What a family puts into a drive, in the contract's words; `value` in the finding's unit, null where it has no size. */
export interface Planted {
  readonly kind: Finding['kind']
  readonly name: string | null
  readonly value: number | null
}

export interface RestCase {
  readonly drive: Drive
  readonly vehicle: Vehicle
  /** null: healthy. */
  readonly planted: Planted | null
  /** True where nothing but the vehicle file can tell it: not counted without. */
  readonly needsFile?: boolean
  /** What else must hold of the answers: its complaint, or null. */
  readonly also?: (answers: readonly Answer[]) => string | null
  /** What was drawn, for whoever looks into a seed. */
  readonly words: string
}

/** Drives of one part of the car, ill and healthy, on either simulator's cars. Same arguments, same case. */
export interface RestFamily {
  readonly name: string
  /** Names in ANALYSES of the questions that judge it. */
  readonly asks: readonly string[]
  draw(model: Model, seed: number, ill: boolean): RestCase
}

export interface Judged {
  readonly found: boolean
  /** Relative error; null where it has no size or was not found. */
  readonly error: number | null
  readonly covered: boolean | null
  /** Findings above a note that nobody planted. */
  readonly false: readonly string[]
  readonly broke: readonly string[]
}

/** The family's own questions asked of a case, with its vehicle file or without. */
export function judge(
  family: RestFamily,
  { drive, vehicle, planted, also }: RestCase,
  bare: boolean,
): Judged {
  const asked = ANALYSES.filter(({ name }) => family.asks.includes(name))
  if (asked.length !== family.asks.length) throw new Error(`unknown question among ${family.asks.join(', ')}`)
  const answers = runAll(gatherFacts(drive, bare ? {} : vehicle), asked)
  const loud = answers.flatMap(({ findings }) => findings).filter(({ severity }) => severity !== 'note')
  const same = ({ kind, subject }: Finding): boolean =>
    planted !== null && kind === planted.kind && (planted.name === null || subject.name === planted.name)
  const hit = loud.find(same) ?? null
  const value = planted?.value ?? null
  const sized = hit !== null && hit.value !== null && value !== null
  return {
    found: hit !== null,
    error: sized ? hit.value! / value! - 1 : null,
    covered: sized && hit.low !== null ? hit.low <= value! && value! <= hit.high! : null,
    false: loud
      .filter((each) => !same(each))
      .map(({ severity, kind, headline }) => `${severity} ${kind}: ${headline}`),
    broke: [
      ...answers
        .flatMap(({ questions }) => questions)
        .map(({ why }) => why)
        .filter((why) => why.startsWith('the analysis') && why.includes('broke off')),
      ...[also?.(answers) ?? []].flat(),
    ],
  }
}

import { describe, expect, test } from 'vitest'
import { z } from 'zod'
import { reviewSchema } from '../../shared/review.ts'
import { toJson } from '../../src/report/json.ts'
import { exitStatus, reviewDrive } from '../../src/review/review.ts'
import { driveFromText } from '../helpers/drive-from-text.ts'

const drive = () =>
  driveFromText(`
    time_s  pack_voltage  pack_current  speed
    0.0     400           0             0
    0.1     399           20            1
    0.2     nan           40            2
    0.3     397           60            3`)

describe('the review as JSON', () => {
  test('is byte for byte the same for the same drive, and has the contract\u2019s keys in order', () => {
    const first = toJson(reviewDrive(drive(), {}))
    expect(toJson(reviewDrive(drive(), {}))).toBe(first)
    const keys = Object.keys(JSON.parse(first) as object)
    // The contract: schema, drive, channels, assumptions, questions, findings, starts, cells, modules, pedal, regen,
    // precharge, isolation, energy, timeline.
    const fixed = [
      'schema',
      'drive',
      'channels',
      'assumptions',
      'questions',
      'findings',
      'starts',
      'cells',
      'modules',
      'pedal',
      'regen',
      'precharge',
      'isolation',
      'energy',
      'timeline',
    ]
    expect(keys.filter((key) => fixed.includes(key))).toEqual(fixed)
  })

  test('holds nothing that is not finite', () => {
    expect(toJson(reviewDrive(drive(), {}))).not.toMatch(/NaN|Infinity/)
  })

  test('has a JSON Schema that follows from the zod schema', () => {
    const schema = z.toJSONSchema(reviewSchema) as { properties: Record<string, unknown>; required: string[] }
    expect(schema.required).toEqual(expect.arrayContaining(['drive', 'findings', 'questions', 'energy']))
    expect(JSON.stringify(schema)).toContain('likelihood_ratio')
  })

  test('too little assessed is exit status 3', () => {
    const bare = driveFromText(`
      time_s  motor_temperature
      0       20
      1       21`)
    expect(exitStatus(reviewDrive(bare, {}))).toBe(3)
  })
})

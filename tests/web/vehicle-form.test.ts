import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { z } from 'zod'
import { vehicleSchema } from '../../shared/vehicle.ts'
import { VEHICLE_FIELDS } from '../../web/views/vehicle-fields.ts'
import { atPath, fieldText, fieldValue, withPath } from '../../web/views/vehicle-text.ts'

const FIELDS = VEHICLE_FIELDS.flatMap(([, fields]) => fields)
const PARTS = ['pack', 'precharge', 'pedal', 'brake', 'car', 'states', 'fault_bits', 'record']

describe('the form of the vehicle file', () => {
  it('has a field for each of the schema’s, and no other', () => {
    const json = z.toJSONSchema(vehicleSchema) as { properties: Record<string, { properties?: object }> }
    const expected = Object.entries(json.properties).flatMap(([key, value]) =>
      PARTS.includes(key) ? Object.keys(value.properties!).map((inner) => `${key}.${inner}`) : [key],
    )
    expect(FIELDS.map((field) => field.path).sort()).toEqual(expected.sort())
  })

  it('writes and reads every field of the sample cars without changing them', () => {
    for (const car of ['juniper', 'sorrel', 'teasel']) {
      const path = join(import.meta.dirname, '../../sample-logs', car, 'vehicle.json')
      const vehicle = vehicleSchema.parse(JSON.parse(readFileSync(path, 'utf8')))
      let again: Record<string, unknown> = {}
      for (const { path, kind } of FIELDS)
        again = withPath(again, path, fieldValue(fieldText(atPath(vehicle, path), kind), kind))
      expect(vehicleSchema.parse(again)).toEqual(vehicle)
    }
  })

  it('leaves what it cannot read for the schema to refuse', () => {
    expect(fieldValue('many', 'number')).toBe('many')
    expect(vehicleSchema.safeParse({ pack: { cells: fieldValue('many', 'number') } }).success).toBe(false)
    expect(fieldValue('0.9; 4.1', 'pair')).toEqual([0.9, 4.1])
    expect(fieldValue('1 2\n3, 4', 'lists')).toEqual([
      [1, 2],
      [3, 4],
    ])
    expect(fieldValue('  ', 'number')).toBeUndefined()
    expect(fieldValue('yes, no', 'yes-no-pair')).toEqual([true, false])
    expect(fieldValue('{"5":"fault"}', 'json')).toEqual({ 5: 'fault' })
  })

  it('drops a part when its last field is emptied', () => {
    expect(withPath({ pack: { cells: 96 } }, 'pack.cells', undefined)).toEqual({})
  })
})

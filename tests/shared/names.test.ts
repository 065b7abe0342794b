import { expect, test } from 'vitest'
import { CATALOGUE, type ChannelId, catalogueEntry, type FamilyId } from '../../shared/channels.ts'
import type { Drive } from '../../shared/drive.ts'
import type { Kind, SubjectType } from '../../shared/kinds.ts'
import { notAssessed } from '../../src/facts/answer.ts'
import { channel, type Facts, family, unlogged } from '../../src/facts/facts.ts'

/**
 * A slip in the name of a kind, a subject or a channel does not compile: `npm run types` fails where one of these lines
 * is no error any more. The functions are never called.
 */
const neverRun = (facts: Facts, drive: Drive): unknown[] => [
  drive.channels.get('pack_current'),
  drive.channels.get('cell_voltage.7'),
  // @ts-expect-error pack_current has two r
  drive.channels.get('pack_curent'),
  // @ts-expect-error no such channel
  drive.channels.has('brake_presure'),
  // @ts-expect-error a family is no channel
  drive.channels.get('cell_voltage'),
  // @ts-expect-error cells carry a number
  drive.channels.get('cell_voltage.one'),
  // @ts-expect-error this one carries none
  drive.channels.get('pack_voltage.1'),
  channel(facts, 'speed'),
  // @ts-expect-error
  channel(facts, 'sped'),
  family(facts, 'cell_voltage'),
  // @ts-expect-error no family
  family(facts, 'pack_current'),
  unlogged(facts, ['torque', 'cell_voltage']),
  // @ts-expect-error
  unlogged(facts, ['torque', 'torque_requested']),
  // @ts-expect-error
  notAssessed('pack', 'A question?', ['pack_curent'], 'why', null),
  // @ts-expect-error no such area
  notAssessed('packs', 'A question?', [], 'why', null),
]
const kinds: Kind[] = [
  'cell-weak',
  // @ts-expect-error no such kind
  'weak-cell',
]
const subjects: SubjectType[] = [
  'joint',
  // @ts-expect-error no such subject
  'joints',
]

test('the union of channel names and the catalogue are one list', () => {
  const single: ChannelId[] = ['pack_current', 'cell_voltage.12', 'wheel_speed.4']
  for (const id of single) expect(catalogueEntry(id), id).toBeDefined()
  const families: FamilyId[] = ['cell_voltage', 'module_temperature', 'wheel_speed']
  for (const id of families) expect(CATALOGUE.find((each) => each.id === id)?.numbered, id).toBe(true)
  expect([neverRun, kinds, subjects]).toHaveLength(3)
})

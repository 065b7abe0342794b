import { describe, expect, it } from 'vitest'
import type { Finding, Review } from '../../shared/review.ts'
import { packLayout } from '../../shared/vehicle.ts'
import { finding } from '../../src/facts/finding.ts'
import { foldPatterns } from '../../src/review/fold-patterns.ts'
import { linkCauses } from '../../src/review/link-causes.ts'
import { withIds } from '../../src/review/order.ts'
import { gatherFacts } from '../../src/review/run-all.ts'
import { driveFromColumns } from '../helpers/drive-from-text.ts'

const timeS = Array.from({ length: 100 }, (_, i) => i / 10)
/** 100 A of charging from 4 s to 6 s. */
const facts = gatherFacts(
  driveFromColumns(timeS, { pack_current: timeS.map((at) => (at >= 4 && at <= 6 ? -100 : 20)) }),
  {},
)
const says = (
  kind: Finding['kind'],
  subject: Finding['subject'],
  span_s: [number, number],
  value: number,
  more: Partial<Parameters<typeof finding>[0]> = {},
): Finding =>
  finding({
    ...{ kind, subject, span_s, value, unit: 'x', limit: null, severity: 'attention', headline: `${kind}.` },
    ...{ reason: 'r', next_step: 'n', channels: [], ...more },
  })
const scene = { facts, cells: [] as Review['cells'], modules: [] as Review['modules'] }
const causeOf = (findings: Finding[], kind: Finding['kind'], at = scene): string | null =>
  linkCauses(withIds(findings), at).find((each) => each.kind === kind)!.explained_by

describe('a finding that another explains', () => {
  const max = { attention: null, stop: 4.2, unit: 'V', source: 's' }
  const limit = (volts: number, cell = 4) =>
    says('cell-voltage-limit', { type: 'cell', index: cell }, [4.5, 5.5], volts, {
      limit: max,
      severity: 'stop',
    })
  // Ohm's law: 0.5 mΩ at 100 A is 50 mV.
  const joint = says('joint-resistance-high', { type: 'joint', index: 4 }, [0, 10], 0.5)

  it('a cell past its limit by no more than its own joint drops; stop it stays', () => {
    expect(causeOf([joint, limit(4.24)], 'cell-voltage-limit')).toBe('joint-resistance-high/joint-4')
    expect(causeOf([joint, limit(4.26)], 'cell-voltage-limit')).toBeNull()
    expect(causeOf([joint, limit(4.24, 5)], 'cell-voltage-limit')).toBeNull()
    expect(linkCauses(withIds([joint, limit(4.24)]), scene)[1]!.severity).toBe('stop')
  })

  it('a hot module by no more heat than its joint brings', () => {
    const cells = [1, 2, 3, 4].map((index) => ({ index, module: 1, resistance_mohm: index === 4 ? 1.5 : 1 }))
    const hot = (ratio: number) => says('module-cooling-poor', { type: 'module', index: 1 }, [0, 10], ratio)
    const here = { ...scene, cells: cells as Review['cells'] }
    // 0.5 of 4 mΩ more heat: a ratio of 1.125.
    expect(causeOf([joint, hot(1.12)], 'module-cooling-poor', here)).toBe(joint.id)
    expect(causeOf([joint, hot(1.8)], 'module-cooling-poor', here)).toBeNull()
  })

  it('what begins while its cause stands: a silent node, a dropped contactor', () => {
    const low = says('lv-voltage-low', { type: 'supply' }, [3, 5], 8)
    const silent = (at: number) => says('node-silent', { type: 'node', name: 'battery unit' }, [at, 9], 1)
    expect(causeOf([low, silent(4)], 'node-silent')).toBe(low.id)
    expect(causeOf([low, silent(8)], 'node-silent')).toBeNull()
    const loop = says('interlock-open', { type: 'start-step', name: 'interlock' }, [4, 5], 1)
    const drop = says('contactor-opened-under-load', { type: 'contactor' }, [4.1, 4.2], 80)
    expect(causeOf([loop, drop], 'contactor-opened-under-load')).toBe(loop.id)
  })

  it('a note explains nothing, and a cause that was not found after all is no cause', () => {
    const note = { ...joint, severity: 'note' as const }
    expect(causeOf([note, limit(4.24)], 'cell-voltage-limit')).toBeNull()
    expect(causeOf([{ ...limit(4.24), explained_by: 'gone' }], 'cell-voltage-limit')).toBeNull()
  })
})

describe('findings in one pattern', () => {
  const high = (index: number, mv = 12): Finding =>
    says('cell-imbalance', { type: 'cell', index }, [0, 1], mv, {
      headline: `Cell ${index} stands ${mv} mV above.`,
    })
  const lastThree = Array.from({ length: 60 }, (_, at) => at + 1)
    .filter((index) => (index - 1) % 10 >= 7)
    .map((index) => high(index, index === 29 ? 25 : 12))

  it.each([
    ['with the vehicle file', packLayout({ pack: { cells: 60, cells_per_module: 10 } }, 60)],
    ['without it', packLayout({}, 60)],
  ])('are one, the worst, with the others beside it: %s', (_, layout) => {
    const folded = foldPatterns([...lastThree, high(3)], layout)
    expect(folded).toHaveLength(2)
    const pattern = folded.find((each) => each.also.length > 0)!
    expect(pattern.subject.index).toBe(29)
    expect(pattern.also).toHaveLength(17)
    expect(pattern.headline).toBe(
      'Cell 29 stands 25 mV above; 17 more stand alike, the last 3 cells of every 10.',
    )
  })

  it('single cells, cells of the other sign and too few stay as they are', () => {
    const layout = packLayout({ pack: { cells: 60, cells_per_module: 10 } }, 60)
    const single = [high(3), high(17), high(44), high(51)]
    expect(foldPatterns(single, layout)).toEqual(single)
    const mixed = lastThree.map((each, at) => (at % 3 === 0 ? { ...each, value: -12 } : each))
    expect(
      foldPatterns(mixed, layout).every((each) => each.also.every(({ value }) => value! * each.value! > 0)),
    ).toBe(true)
  })
})

import type { ChannelId } from '../../../shared/channels.ts'
import type { Limit } from '../../../shared/limits.ts'
import type { Finding, Question } from '../../../shared/review.ts'
import { cellSum } from '../../car/cell-sum.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { DC_LINK, HOT_JOINT, INSIDE_BOX, OUTSIDE_BOX } from '../../facts/cautions.ts'
import { toDrive } from '../../facts/drive-advice.ts'
import { type AnyId, channel, type Facts, family } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { freshSamples } from '../../samples/fresh-samples.ts'
import { linearAt, type Samples } from '../../samples/on-one-clock.ts'
import { type BoxPath, boxPaths } from '../models/box-paths.ts'
import { type LinkCourse, linkCourse, NO_COURSE } from '../models/link-course.ts'
import { type PathResistance, pathResistance } from '../models/path-resistance.ts'

interface Path {
  readonly kind: 'main-path-resistance-high' | 'contactor-resistance-high' | 'box-link-resistance-high'
  readonly subject: 'main-path' | 'contactor' | 'box-link'
  /** Which of several. */
  readonly name?: string
  /** Modules beside it, whose warmth it may follow. */
  readonly modules?: readonly number[]
  readonly question: string
  readonly upstream: Samples | null
  readonly downstream: Samples | null
  readonly channels: readonly string[]
  readonly holds: string
  readonly missing: readonly AnyId[]
  /** Why the two readings cannot show it although both are logged; null where they can. */
  readonly blind: string | null
  readonly next_step: string
  readonly cautions: readonly string[]
  readonly limit: Limit
}

/**
 * A healthy path of a large pack takes up to two thirds of the limit: the interval must lie above that. Common
 * practice, no source.
 */
const SURELY = 2 / 3

/**
 * Does the path outside the cells drop more than fuses, plugs, cables and contactors should?
 *
 * Model:  a line of the drop between two voltage readings over current (see `pathResistance`): cells to pack voltage,
 *         pack to link voltage with contactors closed, boxes to pack voltage, each box's cells to its own voltage. Of a
 *         box its course over the drive as well (`linkCourse`): rise with warmth against copper's, jumps.
 * Reads:  cell_voltage.*, pack_voltage, link_voltage, box_voltage.* [V]; pack_current [A, discharge positive].
 * Gives:  `main-path-`, `contactor-` and `box-link-resistance-high`, mΩ, each with a 95 % interval.
 * Blind:  drops inside a module's own taps; where the car's maker measures pack voltage is taken from the vehicle file
 *         (`pack_voltage_at`): read at the cells it shows no main path, read after the contactors it holds both.
 * Biased by: a lag between the readings (fitted), their scale difference, the current's gain (both in the interval).
 * Source: Ohm's law; limits: common practice, no source.
 */
export function mainPath(facts: Facts): Answer {
  const questions: Question[] = []
  const findings: Finding[] = []
  for (const path of paths(facts)) {
    if (path.blind || !path.upstream || !path.downstream) {
      const why = path.blind ?? `not in the log: ${path.missing.join(', ')}`
      const toAssess = path.blind ? null : `Log ${path.missing.join(' and ')} at 1 Hz or faster.`
      questions.push(notAssessed('pack', path.question, path.missing, why, toAssess, 'mΩ'))
      continue
    }
    const found = pathResistance(facts, path.upstream, path.downstream)
    if (!found) {
      const why = 'the current moved too little with contactors closed'
      const toAssess = toDrive(
        'pull away and brake so that currents lie 20 A apart, each held for a second',
        'after a few runs',
      )
      questions.push(notAssessed('pack', path.question, ['pack_current'], why, toAssess, 'mΩ'))
      continue
    }
    // contract: a link between boxes is bad by its heat as well, whatever its resistance
    const heat = (1e3 * facts.limits.linkHeat.attention!) / found.rmsA ** 2
    const bar =
      path.kind === 'box-link-resistance-high' ? Math.min(path.limit.attention!, heat) : path.limit.attention!
    const course = path.modules ? linkCourse(facts, found, path.modules) : NO_COURSE
    const over = found.milliohm > bar && found.milliohm - found.plusMinus > SURELY * bar
    const high = over || course.rises
    if (high) findings.push(say({ ...path, limit: { ...path.limit, attention: bar } }, found, course))
    const figure = `${found.milliohm.toFixed(2)} ± ${found.plusMinus.toFixed(2)} mΩ over ${path.holds}; limit ${Number(bar.toPrecision(3))} mΩ (${path.limit.source}).${course.words}`
    questions.push(
      assessed('pack', path.question, high, figure, {
        value: bar + 1.28 * (found.plusMinus / 1.96),
        limit: path.limit.attention,
        unit: 'mΩ',
      }),
    )
  }
  if (family(facts, 'box_voltage').length === 0) questions.push(noBoxes())
  return { questions, findings }
}

const noBoxes = (): Question =>
  notAssessed(
    'pack',
    'Do cables, service plug and terminals of a box drop more than they should?',
    ['box_voltage'],
    'no box’s own voltage is in the log',
    'Log each box’s voltage at its terminals at 1 Hz or faster.',
    'mΩ',
  )

function paths(facts: Facts): Path[] {
  const { limits, vehicle } = facts
  const cells = facts.once(cellSum)
  const fresh = (id: ChannelId): Samples | null => {
    const read = channel(facts, id)
    return read ? freshSamples(read) : null
  }
  const pack = fresh('pack_voltage')
  const link = fresh('link_voltage')
  const boxes = family(facts, 'box_voltage')
  const place = vehicle.pack?.pack_voltage_at
  const boxSum = boxes.length > 1 ? sumOf(boxes.map((box) => freshSamples(box.channel))) : null
  const result: Path[] = [
    {
      kind: 'main-path-resistance-high',
      subject: 'main-path',
      question: 'Does the main path drop more than its cells explain?',
      upstream: cells?.complete ? { timeS: cells.timeS, values: cells.volts } : null,
      downstream: pack,
      channels: ['pack_voltage', 'pack_current', 'cell_voltage.1'],
      holds:
        place === 'after-contactors'
          ? 'fuse, service plug, links between boxes, terminals and contactors'
          : 'fuse, service plug, links between boxes and terminals',
      missing: [
        ...(cells?.complete ? [] : (['cell_voltage'] as const)),
        ...(pack ? [] : (['pack_voltage'] as const)),
      ],
      blind: place === 'cells' ? 'the vehicle file says that pack voltage is the cells’ own sum' : null,
      next_step:
        'With the pack shut down by its maker’s procedure, measure fuse, service plug and each terminal with a micro-ohm meter, and open the one that reads most.',
      cautions: [INSIDE_BOX, OUTSIDE_BOX],
      limit: limits.mainPath,
    },
    {
      kind: 'contactor-resistance-high',
      subject: 'contactor',
      question: 'Do contactors and cables to the inverter drop more than they should?',
      upstream: pack,
      downstream: link,
      channels: ['pack_voltage', 'link_voltage', 'pack_current'],
      holds: 'contactors, cables and connectors to the inverter',
      missing: [...(pack ? [] : (['pack_voltage'] as const)), ...(link ? [] : (['link_voltage'] as const))],
      blind:
        place === 'after-contactors' && pack && link
          ? 'the vehicle file says that pack voltage is read after the contactors'
          : null,
      next_step:
        'Isolated and proved dead, measure each high-voltage connector and cable end with a micro-ohm meter and look for heat marks; have the contactors’ contact resistance checked by their maker’s procedure.',
      cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
      limit: limits.contactorPath,
    },
  ]
  if (boxSum)
    result.push({
      kind: 'box-link-resistance-high',
      subject: 'box-link',
      question: 'Do the cables between the battery boxes drop more than they should?',
      upstream: boxSum,
      downstream: pack,
      channels: [...boxes.map((box) => box.channel.id), 'pack_voltage', 'pack_current'],
      holds: 'cables and terminals between the boxes',
      missing: pack ? [] : (['pack_voltage'] as const),
      blind: null,
      next_step:
        'With the pack shut down by its maker’s procedure, measure each link between the boxes from terminal to terminal with a micro-ohm meter.',
      cautions: [OUTSIDE_BOX, INSIDE_BOX],
      limit: limits.boxLink,
    })
  return [...result, ...facts.once(boxPaths).map((box) => ofBox(facts, box))]
}

/** A box's own cables, service plug, fuse and terminals: what its voltage holds and its cells do not. */
function ofBox({ limits }: Facts, box: BoxPath): Path {
  return {
    kind: 'box-link-resistance-high',
    subject: 'box-link',
    name: box.name,
    modules: box.modules,
    question: `Do cables, service plug and terminals of ${box.name} drop more than they should?`,
    upstream: box.cells,
    downstream: box.box,
    channels: [...box.channels, 'pack_current'],
    holds: `cables, service plug, fuse and terminals of ${box.name}`,
    missing: [],
    blind: null,
    next_step: `With the pack shut down by its maker’s procedure, measure service plug, fuse and each terminal of ${box.name} with a micro-ohm meter, and open the one that reads most.`,
    cautions: [OUTSIDE_BOX, INSIDE_BOX, HOT_JOINT],
    limit: limits.boxLink,
  }
}

/** The channels' sum at the moments of the first, each read between its samples. */
function sumOf(all: readonly Samples[]): Samples {
  const [first, ...rest] = all as [Samples, ...Samples[]]
  const values = Float64Array.from(first.values)
  for (const each of rest) {
    const volts = linearAt(each, first.timeS, 5)
    for (let i = 0; i < values.length; i++) values[i]! += volts[i]!
  }
  return { timeS: first.timeS, values }
}

function say(path: Path, found: PathResistance, course: LinkCourse): Finding {
  const watts = (found.milliohm / 1000) * found.rmsA ** 2
  const [first, second] = found.halves
  const apart =
    first !== null &&
    second !== null &&
    Math.abs(first - second) > Math.max(2 * found.plusMinus, 0.3 * found.milliohm)
      ? ` The drive’s halves disagree (${first.toFixed(1)} and ${second.toFixed(1)} mΩ): it comes and goes, or grows.`
      : ''
  return finding({
    kind: path.kind,
    subject: { type: path.subject, ...(path.name ? { name: path.name } : {}) },
    span_s: found.span_s,
    value: found.milliohm,
    unit: 'mΩ',
    plusMinus: found.plusMinus,
    limit: path.limit,
    ...(course.rises ? { severity: 'attention' as const } : {}),
    question: path.question,
    headline: `${found.milliohm.toFixed(1)} mΩ lie in ${path.holds}.`,
    reason: `The drop follows the current; at the drive’s ${found.rmsA.toFixed(0)} A it makes ${watts.toFixed(0)} W of heat.${apart}${course.words}`,
    next_step: path.next_step,
    cautions: path.cautions,
    channels: path.channels,
  })
}

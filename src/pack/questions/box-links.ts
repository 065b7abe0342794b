import type { Limit } from '../../../shared/limits.ts'
import type { Finding } from '../../../shared/review.ts'
import { copperFactor } from '../../car/copper.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { HOT_JOINT, INSIDE_BOX, OUTSIDE_BOX } from '../../facts/cautions.ts'
import type { AnyId, Facts } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'
import { cellCauses } from '../models/cell-causes.ts'
import { cellPeers } from '../models/cell-peers.ts'
import { milli } from '../models/cell-words.ts'
import { driveCurrents } from '../models/drive-currents.ts'
import { type LinkFigure, linkFigures } from '../models/link-figures.ts'
import { resistanceUnseen } from '../models/resistance-unseen.ts'

const QUESTION = 'Does a cable between boxes, a service plug or a fuse between cells resist too much?'

const PRACTICE = 'common practice, no source'
/** From so much on a link of unstated length is shown, as a note, Ω (0.7 m of 50 mm² copper and two ends): no source. */
const UNSTATED_OHM = 2.8e-4
/** A cable at 60 °C has so many times its copper at 20 °C (IEC 60028); its two crimped and bolted ends, Ω: no source. */
const WARM_COPPER = copperFactor(60)
const ENDS_OHM = 1e-4
/** Copper's own rise, a share per kelvin. */
const COPPER_PER_K = copperFactor(21) - 1

/**
 * Which link that has no peers is bad?
 *
 * Model:  the whole link R from the reading of the cell that holds it (`linkFigures`); heat R · I² at the drive's own
 *         current; copper of the stated length and section; rise with warmth against copper's.
 * Reads:  cell_voltage.* [V], pack_current [A, discharge positive], module_temperature.* [°C]; `box_of_module`, `links`.
 * Gives:  `box-link-resistance-high`, mΩ of the whole link, with the 95 % interval of the cause; attention at most. What
 *         stated copper and two good ends leave over is judged as a joint's extra is: a note, attention over its stop limit.
 * Blind:  a link outside the cells' readings; one whose length nobody stated and that stays under the heat's limit.
 * Biased by: the cell's own difference from its peers, the current's gain (both in the interval).
 * Source: Ohm's law; IEC 60028 for copper; limits in `LIMITS`, common practice, no source.
 */
export function boxLinks(facts: Facts): Answer {
  const unseen = facts.once(resistanceUnseen)
  const none = (missing: readonly AnyId[], why: string, toAssess: string): Answer => ({
    questions: [notAssessed('pack', QUESTION, missing, why, toAssess, 'mΩ')],
    findings: [],
  })
  if (unseen) return none(unseen.missing, unseen.why, unseen.toAssess)
  const figures = facts.once(linkFigures)
  if (figures.length === 0)
    return none(
      [],
      'the vehicle file names no boxes, cables or plugs that the cells’ readings would hold',
      'Name the modules’ boxes (box_of_module) and the cables, plugs and fuses with length and section (links) in the vehicle file.',
    )
  const { rms, peak } = driveCurrents(facts.once(cellPeers)!.fit)
  const heatOhm = facts.limits.linkHeat.attention! / rms ** 2
  const drive = { rms, peak, heatOhm }
  const findings = figures.flatMap((figure) => ofLink(facts, figure, drive))
  const bars = figures.map((figure) => barOf(facts, figure, heatOhm) + 0.65 * figure.plusMinus)
  const said = figures.map(
    ({ link, ohm, plusMinus }) =>
      `${link.what}: ${milli(ohm)} ± ${milli(plusMinus)} mΩ, ${(ohm * rms ** 2).toFixed(1)} W at this drive’s ${rms.toFixed(0)} A, ${(ohm * peak ** 2).toFixed(0)} W at ${peak.toFixed(0)} A${link.copperOhm === null ? '' : ` (copper of its length and section: ${milli(link.copperOhm)} mΩ)`}`,
  )
  return {
    questions: [
      assessed(
        'pack',
        QUESTION,
        findings.some((each) => each.severity !== 'note'),
        `${said.join('; ')}.`,
        {
          value: Number(milli(Math.max(...bars), 4)),
          unit: 'mΩ',
        },
      ),
    ],
    findings,
  }
}

/** What is said of a link: over a limit, over its copper and ends, or of unknown copper and not small. */
function ofLink(facts: Facts, figure: LinkFigure, drive: Parameters<typeof say>[3]): Finding[] {
  const why = faultsOf(facts, figure, drive.heatOhm)
  if (why.length > 0) return [say(facts, figure, why, drive, 'attention')]
  // a cell that is found weak beside its link has a finding of its own
  const weak = facts.once(cellCauses)?.verdicts.some((each) => each.cell === figure.cell)
  const more = weak ? 0 : beyondCopper(figure)
  if (more > facts.limits.joint.attention! / 1e3) {
    const ends = `copper of its stated length and section has ${milli(figure.link.copperOhm!)} mΩ, so at least ${milli(more)} mΩ of it are its ends, or its length and section are not as stated`
    const severity = more > facts.limits.joint.stop! / 1e3 ? 'attention' : 'note'
    return [say(facts, figure, [ends], drive, severity)]
  }
  if (figure.link.copperOhm !== null || !(figure.ohm - figure.plusMinus > UNSTATED_OHM)) return []
  const unstated = 'its length and section are not stated, so a long cable and a bad joint read alike'
  return [say(facts, figure, [unstated], drive, 'note')]
}

/** What copper of its stated size, warm, and two good ends do not explain, at least, Ω; 0 where nothing is stated. */
function beyondCopper({ link, ohm, plusMinus }: LinkFigure): number {
  if (link.copperOhm === null) return 0
  return Math.max(0, ohm - plusMinus - WARM_COPPER * link.copperOhm - ENDS_OHM)
}

function barOf(facts: Facts, { link }: LinkFigure, heatOhm: number): number {
  const copper = link.copperOhm === null ? Number.POSITIVE_INFINITY : link.copperOhm
  return Math.min(heatOhm, facts.limits.linkCopper.attention! * copper)
}

/** What is wrong with it, in sentences; none where nothing is. */
function faultsOf(facts: Facts, { link, ohm, plusMinus, perK }: LinkFigure, heatOhm: number): string[] {
  const why: string[] = []
  const times = facts.limits.linkCopper.attention!
  if (ohm > heatOhm) why.push(`it takes over ${facts.limits.linkHeat.attention} W at this drive’s current`)
  // a short link is known badly: the excess must be clear of the cell’s own difference as well
  if (link.copperOhm !== null && ohm > times * link.copperOhm && ohm - plusMinus > 1.5 * link.copperOhm)
    why.push(`it is ${(ohm / link.copperOhm).toFixed(1)} times copper of its stated length and section`)
  if (perK && ohm - plusMinus > 0 && perK.ohm - 3 * perK.error > 2 * COPPER_PER_K * ohm)
    why.push(
      `it rises by ${((100 * perK.ohm) / ohm).toFixed(1)} % a kelvin of warmth where copper rises by ${(100 * COPPER_PER_K).toFixed(1)} %`,
    )
  return why
}

function say(
  facts: Facts,
  figure: LinkFigure,
  why: readonly string[],
  drive: { readonly rms: number; readonly peak: number; readonly heatOhm: number },
  severity: 'attention' | 'note',
): Finding {
  const { link, cell, ohm, plusMinus } = figure
  const bar = barOf(facts, figure, drive.heatOhm)
  const limit: Limit = {
    attention: Number(milli(Math.min(bar, ohm), 6)),
    stop: null,
    unit: 'mΩ',
    source: PRACTICE,
  }
  return finding({
    kind: 'box-link-resistance-high',
    subject: {
      type: 'box-link',
      name: link.what,
      between_cells: [link.afterCell, link.afterCell + 1],
    },
    span_s: [0, facts.drive.durationS],
    value: ohm * 1e3,
    unit: 'mΩ',
    plusMinus: plusMinus * 1e3,
    limit,
    severity,
    headline: `${link.what.charAt(0).toUpperCase()}${link.what.slice(1)} has ${milli(ohm)} ± ${milli(plusMinus)} mΩ`,
    reason: `The reading of cell ${cell} holds it: ${why.join('; ')}. It makes ${(ohm * drive.rms ** 2).toFixed(1)} W of heat at this drive’s ${drive.rms.toFixed(0)} A, ${(ohm * drive.peak ** 2).toFixed(0)} W at the peak of ${drive.peak.toFixed(0)} A. It has no peers in the pack: a weak cell ${cell} would add to it.`,
    question: QUESTION,
    next_step: `With the pack shut down by its maker’s procedure, measure ${link.what} from terminal to terminal with a micro-ohm meter, then each end by itself.`,
    cautions: [OUTSIDE_BOX, INSIDE_BOX, HOT_JOINT],
    channels: [`cell_voltage.${cell}`, 'pack_current'],
  })
}

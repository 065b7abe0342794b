import type { Kind } from '../../shared/kinds.ts'
import type { Finding, Review } from '../../shared/review.ts'
import { channel, type Facts } from '../facts/facts.ts'

/** What a link may look at beside the two findings: figures of the review, and the drive. */
export interface Scene {
  readonly facts: Facts
  readonly cells: Review['cells']
  readonly modules: Review['modules']
}

/** Which kinds may explain which, and whether this one explains that one: place, time and size must fit. */
interface Link {
  readonly cause: readonly Kind[]
  readonly effect: readonly Kind[]
  readonly explains: (cause: Finding, effect: Finding, scene: Scene) => boolean
}

/** A cause is seen at most this long after its effect begins, or ends this long before it, s. Common practice, no source. */
const NEAR_S = 2

const LINKS: readonly Link[] = [
  { cause: ['joint-resistance-high'], effect: ['cell-voltage-limit'], explains: byOwnDrop },
  {
    cause: ['joint-resistance-high', 'cell-weak'],
    effect: ['module-cooling-poor', 'temperature-limit'],
    explains: byOwnHeat,
  },
  { cause: ['box-link-resistance-high'], effect: ['main-path-resistance-high'], explains: bySeries },
  { cause: ['lv-voltage-low', 'dcdc-not-charging'], effect: ['node-silent'], explains: near },
  {
    cause: ['interlock-open', 'inertia-switch-open'],
    effect: ['drive-lost', 'contactor-opened-under-load'],
    explains: near,
  },
  {
    cause: ['charge-current-over-limit', 'charge-when-cold'],
    effect: ['regen-limited'],
    explains: limitedBy('charge current limit'),
  },
  { cause: ['cell-voltage-limit'], effect: ['regen-limited'], explains: limitedBy('voltage ceiling') },
  { cause: ['temperature-limit'], effect: ['regen-limited'], explains: limitedBy('temperature') },
]

/**
 * Findings of one cause: what a finding explains is linked to it. No severity is lowered; an effect whose size the cause
 * cannot explain keeps its own rank, and so does one that an analysis has linked already.
 */
export function linkCauses(findings: readonly Finding[], scene: Scene): Finding[] {
  const ids = new Set(findings.map(({ id }) => id))
  return findings.map((found) => {
    // an analysis may name a cause that another one did not find after all
    const effect =
      found.explained_by !== null && !ids.has(found.explained_by) ? { ...found, explained_by: null } : found
    if (effect.explained_by !== null) return effect
    const cause = findings.find(
      (each) =>
        each !== found &&
        each.severity !== 'note' &&
        each.explained_by === null &&
        LINKS.some(
          (link) =>
            link.cause.includes(each.kind) &&
            link.effect.includes(effect.kind) &&
            link.explains(each, effect, scene),
        ),
    )
    return cause ? { ...effect, explained_by: cause.id } : effect
  })
}

/** A cell read past its limit by no more than what its own joint drops at that moment's current. */
function byOwnDrop(joint: Finding, limit: Finding, { facts }: Scene): boolean {
  if (joint.subject.index === undefined || joint.subject.index !== limit.subject.index) return false
  if (joint.value === null || limit.value === null || limit.limit === null) return false
  const over = limit.value > limit.limit
  const current = channel(facts, 'pack_current')
  if (!current) return false
  const [from, to] = limit.span_s
  let drawn = 0
  for (let i = 0; i < current.timeS.length; i++) {
    if (current.timeS[i]! < from - 0.5 || current.timeS[i]! > to + 0.5) continue
    // a joint lifts its cell while charging and lowers it while discharging
    const amperes = over ? -current.values[i]! : current.values[i]!
    if (amperes > drawn) drawn = amperes
  }
  const dropV = ((joint.high ?? joint.value) / 1e3) * drawn
  return Math.abs(limit.value - limit.limit) <= dropV
}

/** A module warmed by no more than the heat that the bad joint or cell puts into it beside its other cells. */
function byOwnHeat(cause: Finding, hot: Finding, { cells, modules }: Scene): boolean {
  const cell = cells.find(({ index }) => index === cause.subject.index)
  if (!cell || hot.subject.type !== 'module' || hot.subject.index !== cell.module || hot.value === null)
    return false
  const inModule = cells.filter(
    ({ module, resistance_mohm }) => module === cell.module && resistance_mohm !== null,
  )
  const total = inModule.reduce((sum, each) => sum + each.resistance_mohm!, 0)
  const extra =
    cause.kind === 'joint-resistance-high'
      ? cause.value
      : cause.value === null || cell.resistance_mohm === null
        ? null
        : cell.resistance_mohm * (1 - 1 / cause.value)
  if (extra === null || !(total > 0) || !(extra > 0)) return false
  // what of the module's heat the fault brings, against what its fellows make
  const more = extra / Math.max(total - extra, 1e-6)
  if (hot.kind === 'module-cooling-poor') return more >= (hot.low ?? hot.value) - 1
  const rise = modules.find(({ index }) => index === cell.module)?.rise_c ?? null
  return rise !== null && hot.limit !== null && hot.value - (rise * more) / (1 + more) <= hot.limit
}

/** A link lies in the main path as well: without it the path would keep its limit. */
function bySeries(link: Finding, path: Finding): boolean {
  if (link.value === null || path.value === null || path.limit === null) return false
  return path.value - (link.high ?? link.value) <= path.limit
}

/** The effect begins while the cause stands, or just around it. */
function near(cause: Finding, effect: Finding): boolean {
  const atS = effect.onset_s ?? effect.span_s[0]
  return atS >= cause.span_s[0] - NEAR_S && atS <= cause.span_s[1] + NEAR_S
}

/** What held regeneration back goes by this name in its finding, and both stand at the same time. */
function limitedBy(name: string): Link['explains'] {
  return (cause, effect) => effect.subject.name === name && overlaps(cause, effect)
}

const overlaps = (a: Finding, b: Finding): boolean => a.span_s[0] <= b.span_s[1] && b.span_s[0] <= a.span_s[1]

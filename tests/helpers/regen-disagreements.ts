import type { Review } from '../../shared/review.ts'
import { regenText } from '../../src/report/regen-text.ts'

type Regen = NonNullable<Review['regen']>

/** One figure of regeneration as two surfaces tell it; `within` is what the words' rounding explains. */
export interface Told {
  readonly what: string
  readonly a: number
  readonly b: number
  readonly within: number
}

/**
 * Every figure of regeneration that stands in more than one place of a review: JSON against the model's own line, replays,
 * proposals and their tables, findings, energy, questions' words and the terminal's text.
 */
export function regenTold(review: Review): Told[] {
  const { regen } = review
  if (!regen) return []
  return [...onTheLine(regen), ...asReplayed(regen), ...proposed(regen), ...found(review), ...inWords(review)]
}

/** How far two surfaces are apart beyond rounding; 0 where they agree. */
export const apart = ({ a, b, within }: Told): number => Math.max(0, Math.abs(a - b) - within)

/** Sentences for every reviewed figure that two surfaces tell differently. */
export function regenDisagreements(review: Review): string[] {
  return regenTold(review)
    .filter((each) => apart(each) > 1e-6 * Math.max(1, Math.abs(each.a)))
    .map(({ what, a, b }) => `regeneration, ${what}: ${a} here, ${b} there`)
}

/** Nine digits are kept of every figure. */
const tidy = (value: number): number => 2e-8 * Math.max(1, Math.abs(value))
const same = (what: string, a: number | null | undefined, b: number | null | undefined): Told[] =>
  a == null || b == null ? [] : [{ what, a, b, within: tidy(a) }]
/** Energy that one adds up press by press and the other over the whole drive: alike to five digits, of which three are told. */
const summed = (what: string, a: number | null, b: number | null): Told[] =>
  a === null || b === null ? [] : [{ what, a, b, within: 1e-5 * Math.abs(a) }]
/** A bound must not pass what it bounds. */
const atMost = (what: string, bound: number, value: number): Told[] => [
  { what, a: Math.max(bound, value), b: value, within: tidy(value) },
]

function onTheLine(regen: Regen): Told[] {
  const { curve, start_bar: start, full_bar: full, max_nm: max } = regen
  if (curve.length < 2) return []
  const top = Math.max(...curve.map((point) => point[1]))
  const bends = curve.map((point) => point[0])
  const nearest = (bar: number): number =>
    bends.reduce((a, b) => (Math.abs(b - bar) < Math.abs(a - bar) ? b : a))
  const told: Told[] = []
  if (max !== null)
    told.push(
      ...(regen.max_nm_bound === 'exact'
        ? same('most and line', max, top)
        : atMost('most and line', max, top)),
    )
  if (start !== null && regen.start_bar_bound === 'exact' && start > 0)
    told.push(...same('start and line', start, nearest(start)))
  if (full !== null && regen.full_bar_bound === 'exact' && full < bends.at(-1)!)
    told.push(...same('full and line', full, nearest(full)))
  if (curve[0]![0] === 0) told.push(...same('lift-off and line', regen.lift_nm ?? 0, curve[0]![1]))
  if (regen.lift_nm !== null && max !== null)
    told.push(...same('parts and most', regen.brake_max_nm, Math.max(0, max - regen.lift_nm)))
  return told
}

function asReplayed(regen: Regen): Told[] {
  return regen.replays.slice(0, 2).flatMap((each) => {
    const { map } = each
    const at = `replay as driven (${each.driver})`
    return [
      ...same(
        `start, ${at}`,
        regen.start_bar_bound === 'exact' ? regen.start_bar : null,
        Math.max(0, map.start_bar),
      ),
      ...(regen.full_bar === null
        ? []
        : regen.full_bar_bound === 'exact'
          ? same(`full, ${at}`, regen.full_bar, map.full_bar)
          : atMost(`full, ${at}`, regen.full_bar, map.full_bar)),
      ...(regen.max_nm === null
        ? []
        : regen.max_nm_bound === 'exact'
          ? same(`most, ${at}`, regen.max_nm, map.max_nm)
          : atMost(`most, ${at}`, regen.max_nm, map.max_nm)),
      ...same(`fade from, ${at}`, regen.fade_kmh?.[0], map.fade_kmh[0]),
      ...same(`fade to, ${at}`, regen.fade_kmh?.[1], map.fade_kmh[1]),
      ...summed(`recovered, ${at}`, regen.recovered_wh, each.recovered_wh),
      ...summed(`share, ${at}`, regen.share_percent, each.share_percent),
      ...same(`held back, ${at}`, regen.limited_share_percent, each.at_limit_percent),
    ]
  })
}

function proposed(regen: Regen): Told[] {
  return regen.proposals.flatMap(
    ({ aim, map, table, replays, reason, uneven_percent, uneven_percent_before }) => {
      const last = table.pressure.at(-1)!
      const top = Math.max(...table.pressure.map((each) => each.total_nm))
      const energy = words(reason, /recovered on this drive (\S+) \u2192 (\S+) \u00b1 (\S+) Wh/)
      const uneven = words(reason, /by (\d+) % at most, (\d+) % today/)
      return [
        ...(map.full_bar <= table.up_to_bar + 0.05 && regen.form !== 'replaces'
          ? [{ what: `${aim}: table and map`, a: map.max_nm, b: top, within: 0.0501 }]
          : []),
        { what: `${aim}: end of the table`, a: last.bar, b: table.up_to_bar, within: 1e-9 },
        ...replays.flatMap((each) => [...same(`${aim}: replayed start`, map.start_bar, each.map.start_bar)]),
        ...told(`${aim}: recovered before`, regen.recovered_wh, energy[0], 0),
        ...told(`${aim}: recovered after`, replays[1]?.recovered_wh, energy[1], 0),
        ...told(`${aim}: uneven after`, uneven_percent, uneven[0], 0),
        ...told(`${aim}: uneven before`, uneven_percent_before, uneven[1], 0),
        ...same(
          `${aim}: uneven today`,
          uneven_percent_before,
          feel(regen, 'worst departure from even slowing per bar'),
        ),
      ]
    },
  )
}

const feel = (regen: Regen, what: string): number | null =>
  regen.feel.find((each) => each.what === what)?.value ?? null

function found({ findings, regen, energy, drive, charges }: Review): Told[] {
  const of = (kind: string): number | null => findings.find((each) => each.kind === kind)?.value ?? null
  const charged = charges.length > 0 || drive.segments.some((each) => each.type === 'charging')
  return [
    ...same('start and finding', regen!.start_bar, of('regen-dead-band')),
    ...same('held back and finding', regen!.limited_share_percent, of('regen-limited')),
    ...same('grip and finding', regen!.lock_margin, of('regen-lock-margin')),
    ...(charged ? [] : same('recovered and energy', regen!.recovered_wh, energy.in_wh)),
  ]
}

/** Numbers of a sentence; empty where it does not say them. */
function words(text: string, pattern: RegExp): number[] {
  return (pattern.exec(text) ?? []).slice(1).map((each) => Number(each.replace('\u2212', '-')))
}

/** A figure and the words that tell it with so many places. */
function told(
  what: string,
  value: number | null | undefined,
  inWordsAs: number | undefined,
  places: number,
): Told[] {
  return value == null || inWordsAs === undefined
    ? []
    : [{ what, a: value, b: inWordsAs, within: 0.501 * 10 ** -places }]
}

function inWords(review: Review): Told[] {
  const regen = review.regen!
  const why = review.questions.map((each) => each.why ?? '').join(' | ')
  const starts = words(why, /regeneration begins at ([\d.]+) \u00b1 ([\d.]+) bar/)
  const friction = words(why, /friction ([\d.]+) \u00b1 ([\d.]+) m\/s\u00b2 per bar/)
  const delay = words(why, /follows the brake after (\d+) \u00b1 (\d+) ms/)
  const held = words(why, /([\d.]+) of ([\d.]+) s of braking limited/)
  const takesOver = words(why, /friction takes over between (\d+) and (\d+) km/)
  const grip = words(why, /needs a grip of ([\d.]+)/)
  const heldS = regen.limited_by.reduce((sum, each) => sum + each.time_s, 0)
  return [
    ...told('start in words', regen.start_bar, starts[0], 1),
    ...told('start, \u00b1 in words', regen.start_bar_plus_minus, starts[1], 1),
    ...told('friction in words', regen.friction_per_bar, friction[0], 3),
    ...told('friction, \u00b1 in words', regen.friction_per_bar_plus_minus, friction[1], 3),
    ...told('delay in words', regen.delay_s === null ? null : 1000 * regen.delay_s, delay[0], 0),
    ...told('fade to, in words', regen.fade_kmh?.[1], takesOver[0], 0),
    ...told('fade from, in words', regen.fade_kmh?.[0], takesOver[1], 0),
    ...told('time held back, in words', held.length > 0 ? heldS : null, held[0], 1),
    ...told('grip in words', regen.lock_margin, grip[0], 2),
    ...inText(review),
  ]
}

/** The terminal's line of figures: each number there with as many places as are written. */
function inText(review: Review): Told[] {
  const regen = review.regen!
  const line = regenText(regen).figures
  const figure = (what: string, value: number | null): Told[] => {
    const at = new RegExp(`(?:^|; )${what} (?:at least |at most )?(\u2212?[\\d.]*\\d)`, 'i').exec(line)?.[1]
    if (value === null || at === undefined) return []
    return told(`${what}, terminal`, value, Number(at.replace('\u2212', '-')), at.split('.')[1]?.length ?? 0)
  }
  return [
    ...figure('starts at', regen.start_bar),
    ...figure('full from', regen.full_bar),
    ...figure('most slowing torque in all', regen.max_nm),
    ...figure('on lift-off', regen.lift_nm),
    ...figure('most over lift-off', regen.brake_max_nm),
    ...figure('fades below', regen.fade_kmh?.[1] ?? null),
    ...figure('gone at', regen.fade_kmh?.[0] ?? null),
    ...figure('friction', regen.friction_per_bar),
    ...figure('held back by a limit for', regen.limited_share_percent),
    ...figure('grip that regeneration alone needs', regen.lock_margin),
    ...figure('recovered', regen.recovered_wh),
  ]
}

import { tableText } from '../../shared/map-table.ts'
import type { Review } from '../../shared/review.ts'
import { FORM_WORDS, withInterval } from '../../shared/wording.ts'

type Regen = NonNullable<Review['regen']>

/** The regeneration that the drive shows, and each proposed map with its table to type in: lines, unwrapped. */
export function regenText(regen: Regen): {
  readonly figures: string
  readonly proposals: readonly string[][]
} {
  const said = (
    what: string,
    value: number | null,
    plusMinus: number | null,
    unit: string,
    bound: Regen['max_nm_bound'] = 'exact',
  ): string[] =>
    value === null
      ? []
      : [
          `${what} ${bound === 'exact' ? '' : `${bound.replace('-', ' ')} `}${withInterval(value, plusMinus, unit)}`,
        ]
  const figures = [
    ...said('starts at', regen.start_bar, regen.start_bar_plus_minus, 'bar', regen.start_bar_bound),
    ...said('full from', regen.full_bar, regen.full_bar_plus_minus, 'bar', regen.full_bar_bound),
    ...said('most slowing torque in all', regen.max_nm, regen.max_nm_plus_minus, 'N·m', regen.max_nm_bound),
    ...said('on lift-off', regen.lift_nm, regen.lift_nm_plus_minus, 'N·m', regen.lift_nm_bound),
    ...said(
      'most over lift-off',
      regen.brake_max_nm,
      regen.brake_max_nm_plus_minus,
      'N·m',
      regen.brake_max_nm_bound,
    ),
    ...(regen.form ? [FORM_WORDS[regen.form]] : []),
    ...said('fades below', regen.fade_kmh?.[1] ?? null, regen.fade_kmh_plus_minus, 'km/h'),
    ...said('gone at', regen.fade_kmh?.[0] ?? null, regen.fade_kmh_plus_minus, 'km/h'),
    ...said('friction', regen.friction_per_bar, regen.friction_per_bar_plus_minus, 'm/s² per bar'),
    ...said(
      'held back by a limit for',
      regen.limited_share_percent,
      regen.limited_share_percent_plus_minus,
      '%',
    ),
    ...said(
      'grip that regeneration alone needs',
      regen.lock_margin,
      regen.lock_margin_plus_minus,
      '',
      regen.lock_margin_bound,
    ),
    ...said('recovered', regen.recovered_wh, regen.recovered_wh_plus_minus, 'Wh'),
  ]
  const proposals = regen.proposals.map(({ aims, reason, table, without_regen, cautions }) => [
    `${aims.join('; ')}: ${reason}`,
    ...tableText(table).split('\n'),
    without_regen,
    ...cautions,
  ])
  const none = regen.proposals_withheld ? [`No map is proposed: ${regen.proposals_withheld}.`] : []
  return {
    figures: `${figures.join('; ')}.`,
    proposals: proposals.length > 0 ? proposals : none.length > 0 ? [none] : [],
  }
}

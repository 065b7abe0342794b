import { z } from 'zod'
import { AREAS, KIND_NAMES, SUBJECT_TYPES } from './kinds.ts'
import { readingAnswerSchema } from './reading.ts'

/**
 * The review: what one drive's logs say. This schema is the contract with other programs (`aftermile review
 * --json`); its JSON Schema is generated from here and checked in tests. Keys are snake_case with their unit.
 * `null` = the log cannot tell; the reason stands beside it or in `questions[]`.
 */
const maybe = z.number().nullable()
const span = z.tuple([z.number(), z.number()])
export const spanSchema = span

export const severitySchema = z.enum(['stop', 'attention', 'note'])
export type Severity = z.infer<typeof severitySchema>

export const subjectSchema = z.object({
  type: z.enum(SUBJECT_TYPES),
  index: z.int().optional(),
  name: z.string().optional(),
  between_cells: z.tuple([z.int(), z.int()]).optional(),
})
export type Subject = z.infer<typeof subjectSchema>

export const rivalSchema = z.object({
  kind: z.enum(KIND_NAMES),
  subject: subjectSchema,
  likelihood_ratio: maybe.describe('how many times better the finding explains the log than this rival'),
  for: z.string(),
  against: z.string(),
  decided_by: z.string(),
})

/** A further subject of the same pattern, with its own figure. */
export const alsoSchema = z.object({
  subject: subjectSchema,
  value: maybe,
  low: maybe,
  high: maybe,
  plus_minus: maybe,
})
export type Also = z.infer<typeof alsoSchema>

export const findingSchema = z.object({
  id: z.string().describe('stable within the review'),
  kind: z.enum(KIND_NAMES),
  severity: severitySchema,
  subject: subjectSchema,
  span_s: span,
  onset_s: maybe,
  value: maybe,
  unit: z.string(),
  low: maybe,
  high: maybe,
  plus_minus: maybe,
  bound: z.enum(['exact', 'at-least', 'at-most']),
  limit: maybe,
  limit_source: z.string().nullable(),
  headline: z.string(),
  reason: z.string(),
  next_step: z.string(),
  cautions: z.array(z.string()),
  rivals: z.array(rivalSchema),
  evidence: z.object({ channels: z.array(z.string()), span_s: span }),
  explained_by: z.string().nullable().describe('id of the finding that explains this one'),
  also: z
    .array(alsoSchema)
    .describe('further subjects of the same pattern; this finding is the worst of them'),
  question: z.string().nullable().describe('the question that it answers, as in questions[]'),
})
export type Finding = z.infer<typeof findingSchema>

export const areaSchema = z.enum(AREAS)
export type { Area } from './kinds.ts'

/** What a person is asked to do with the car, from least to most (the safety page). */
export const RUNGS = ['standing', 'walking', 'road'] as const
export type Rung = (typeof RUNGS)[number]

export const questionSchema = z.object({
  area: areaSchema,
  question: z.string(),
  state: z.enum(['found', 'nothing-found', 'not-assessed']),
  missing: z.array(z.string()),
  why: z.string(),
  to_assess: z.string().nullable(),
  rung: z
    .enum(RUNGS)
    .optional()
    .describe('what to_assess asks of the car: to stand, to roll at walking pace, the road'),
  smallest_seen: maybe,
  unit: z.string(),
  chance: maybe,
  limit: maybe.optional().describe('of the fault looked for, in the unit of smallest_seen'),
  measured: maybe.optional().describe('the worst that was read, in the unit of smallest_seen'),
})
export type Question = z.infer<typeof questionSchema>

export const stepSchema = z.object({
  name: z.string(),
  held: z.boolean().nullable(),
  at_s: maybe,
  why: z.string().describe('what shows it, or why it cannot be seen'),
  earlier: z
    .object({
      took_s: z.number(),
      median_s: z.number(),
      low_s: z.number(),
      high_s: z.number(),
      starts: z.int(),
    })
    .optional()
    .describe(
      'how long it took after the step before it, against the good starts of this car’s stored drives',
    ),
})

export const startSchema = z.object({
  span_s: span,
  reached: z.enum(['unknown', 'off', 'waiting', 'precharge', 'contactors', 'ready', 'driving']),
  steps: z.array(stepSchema),
  first_failed: z.string().nullable(),
  lost_s: maybe
    .optional()
    .describe('when drive was lost in this attempt and did not come back within it; null where it was not'),
})
export type Start = z.infer<typeof startSchema>

/** A charge, in the form of a start: its own chain of steps, its own end. */
export const chargeSchema = startSchema.extend({
  reached: z.enum([...startSchema.shape.reached.options, 'charging']),
})
export type Charge = z.infer<typeof chargeSchema>

/** Who kept the current of a charge where it was. */
export const HOLDERS = [
  'as-asked',
  'charger',
  'cable',
  'pilot',
  'voltage',
  'highest-cell',
  'warmest',
  'coldest',
  'battery-unit',
  'pause',
  'not-told',
] as const
export type Holder = (typeof HOLDERS)[number]

/** One charge, from the first current to the last while the plug stays in. Into the pack is positive here. */
export const chargeSessionSchema = z.object({
  span_s: span,
  phases: z
    .array(
      z.object({
        type: z.enum(['constant-current', 'constant-voltage', 'taper', 'pause']),
        span_s: span,
      }),
    )
    .describe('constant current, constant voltage, request taken back, nothing flowing'),
  into_wh: maybe.describe('into the pack'),
  into_wh_plus_minus: maybe,
  into_ah: maybe,
  into_ah_plus_minus: maybe,
  charger_wh: maybe.describe('out of the charger'),
  charger_wh_plus_minus: maybe,
  wall_wh: maybe.describe('from the wall'),
  wall_wh_plus_minus: maybe,
  wall_phases: z.int().nullable().describe('phases that the wall’s figure takes the mains current for'),
  efficiency_percent: maybe.describe('out of the charger, else into the pack, against the wall'),
  efficiency_percent_plus_minus: maybe,
  soc_from: maybe,
  soc_to: maybe,
  most_a: maybe,
  most_w: maybe,
  held: z
    .array(z.object({ by: z.enum(HOLDERS), span_s: span }))
    .describe('who kept the current where it was, stretch by stretch'),
  held_s: z.array(z.object({ by: z.enum(HOLDERS), time_s: z.number() })).describe('in all, longest first'),
  power: z
    .array(z.tuple([z.number(), maybe, maybe]))
    .describe('[s, W into the pack, W from the wall], thinned to means of equal stretches'),
  slow_percent: maybe.describe('share of the time under 93 % of what the battery unit asked'),
  stops: z.array(
    z.object({
      at_s: z.number(),
      lasts_s: z.number(),
      again_s: maybe,
      kind: z.enum(['broke-off', 'paused', 'ended']),
      first: z.string().describe('what changed first'),
      channel: z.string(),
    }),
  ),
  end: z
    .object({
      spread_mv: z.number().describe('highest less lowest cell while current last flowed'),
      highest_cell: z.int(),
      lowest_cell: z.int(),
      above_median_mv: z.number().describe('highest cell less the middle one'),
      ends_by_cell: z.boolean().describe('the highest cell stood at its limit'),
      cost_ah: maybe.describe('what the middle cell could still have taken until there'),
      cost_ah_plus_minus: maybe,
    })
    .nullable(),
  capacity_ah: maybe.describe('between two rested points, by the vehicle file’s rest voltages'),
  capacity_ah_plus_minus: maybe,
  notes: z.array(z.string()),
})
export type ChargeSession = z.infer<typeof chargeSessionSchema>

export const cellSchema = z.object({
  index: z.int(),
  module: z.int(),
  between_cells: z.tuple([z.int(), z.int()]).nullable(),
  resistance_mohm: maybe,
  resistance_mohm_plus_minus: maybe,
  resistance_mohm_repeats: maybe
    .optional()
    .describe('95 % half width of this cell’s own fit alone, for comparing drives: no gain, nothing shared'),
  resistance_window_s: maybe,
  polarisation_mohm: maybe,
  polarisation_mohm_plus_minus: maybe,
  joint_extra_mohm: maybe,
  joint_extra_mohm_plus_minus: maybe,
  rest_offset_mv: maybe,
  rest_offset_mv_plus_minus: maybe,
  rest_s: maybe,
  min_v: maybe,
  max_v: maybe,
  class: z.string().nullable(),
  growth_mohm: maybe
    .optional()
    .describe('resistance gained since this car’s last stored drive, joint or cell'),
  growth_mohm_plus_minus: maybe.optional(),
})
export type CellRow = z.infer<typeof cellSchema>

/** The rest in which the cells' offsets were read: what a later drive of the car compares with. */
export const cellRestSchema = z.object({
  from: z
    .enum(['before', 'after', 'fit'])
    .describe('before the first load, after load, or read from the fit under load'),
  span_s: span,
  median_v: z.number(),
})

export const moduleSchema = z.object({
  index: z.int(),
  box: z.string().nullable(),
  rise_c: maybe,
  rise_c_plus_minus: maybe,
  thermal_resistance_ratio: maybe,
  thermal_resistance_ratio_plus_minus: maybe,
  hottest_c: maybe,
  hottest_c_plus_minus: maybe,
  spread_c: maybe.describe('largest difference between the sensors of the module'),
  forecast_c: maybe.describe('where the fit settles if the rms current and coolant of this drive went on'),
  forecast_c_plus_minus: maybe,
  time_to_limit_s: maybe.describe('until the limit on that duty; null where the forecast stays below it'),
})
export type ModuleRow = z.infer<typeof moduleSchema>

export const prechargeSchema = z.object({
  span_s: span,
  assessed_from: z.enum(['curve', 'end-value', 'duration']),
  samples_in_rise: z.int(),
  reached_percent: maybe,
  reached_percent_plus_minus: maybe,
  tau_s: maybe,
  tau_s_plus_minus: maybe,
  load_ohm: maybe,
  load_ohm_low: maybe,
  load_ohm_high: maybe,
  energy_j: maybe,
  bound: z.enum(['exact', 'at-least', 'at-most']),
  note: z.string().nullable(),
})
export type PrechargeRow = z.infer<typeof prechargeSchema>

export const pedalSchema = z.object({
  track_1_v: span.nullable().describe('released, pressed'),
  track_2_v: span.nullable(),
  end_points_from: z.enum(['vehicle-file', 'learned', 'unknown']),
  relation: z.enum(['mirrored', 'same-way', 'offset', 'shorted', 'unknown']),
  worst_held_points: maybe,
  worst_held_points_plus_minus: maybe,
  worst_held_at_s: maybe,
  skew_s: maybe,
  skew_s_plus_minus: maybe,
  gain_ratio: maybe,
  offset_points: maybe,
  noise_points: maybe,
  hysteresis_points: maybe,
  sample_s: maybe.describe('typical time between samples of both tracks'),
})

export const applicationSchema = z.object({
  span_s: span,
  from_kmh: maybe,
  to_kmh: maybe,
  peak_bar: maybe,
  peak_regen_nm: maybe,
  recovered_wh: maybe,
  peak_charge_a: maybe,
  deceleration_ms2: maybe,
  deceleration_ms2_plus_minus: maybe,
  share_regen_percent: maybe,
  limited_by: z.string().nullable(),
})

export const mapSchema = z.object({
  start_bar: z.number(),
  full_bar: z.number(),
  max_nm: z.number().describe('most slowing torque in all, lift-off included'),
  fade_kmh: span,
})
export type RegenMap = z.infer<typeof mapSchema>

export const replaySchema = z.object({
  map: mapSchema,
  driver: z.enum(['same-pressure', 'same-deceleration']),
  recovered_wh: maybe,
  recovered_wh_plus_minus: maybe,
  share_percent: maybe,
  peak_charge_a: maybe,
  peak_charge_a_plus_minus: maybe,
  at_limit_percent: maybe,
  deceleration_per_bar: maybe,
  deceleration_per_bar_plus_minus: maybe,
})

export const mapTableSchema = z.object({
  pressure: z.array(
    z.object({
      bar: z.number(),
      total_nm: z.number(),
      brake_nm: z.number().describe('the brake part alone: what a table of pressure against torque takes'),
      percent: maybe.describe("of the controller's most (controller_max_nm)"),
    }),
  ),
  fade: z.array(z.object({ kmh: z.number(), percent: z.number() })),
  error_nm: z.number().describe('most that straight lines between the points depart from the map'),
  up_to_bar: z.number().describe('beyond this press nothing was seen: the table there stays as it is'),
})
export type MapTable = z.infer<typeof mapTableSchema>

export const proposalSchema = z.object({
  map: mapSchema,
  aim: z.enum(['natural', 'more', 'gentler']),
  aims: z.array(z.string()),
  reason: z.string(),
  uneven_percent: maybe.describe('worst departure of m/s² per bar from its mean, first bar to usual presses'),
  uneven_percent_before: maybe,
  energy_change_percent: maybe
    .default(null)
    .describe(
      'of the energy recovered, on another road of this kind; its interval counts the presses of both roads',
    ),
  energy_change_percent_plus_minus: maybe.default(null),
  table: mapTableSchema,
  replays: z.array(replaySchema),
  without_regen: z.string().describe('the same press with regeneration gone'),
  cautions: z.array(z.string()),
})

const bound = z.enum(['exact', 'at-least', 'at-most'])

/** A figure of feel: what the driver's foot and back notice. */
export const feelSchema = z.object({
  what: z.string(),
  value: z.number(),
  plus_minus: maybe,
  unit: z.string(),
  limit: maybe,
  limit_source: z.string(),
})

/** Every figure here is read from one model of slowing torque (src/brake/models/slowing-map.ts). */
export const regenSchema = z.object({
  zero_bar: maybe,
  form: z
    .enum(['sum', 'larger', 'replaces'])
    .nullable()
    .describe('how lift-off and brake part join; null where not told, or where there is no lift-off part'),
  lift_nm: maybe.describe('with both pedals free'),
  lift_nm_plus_minus: maybe,
  lift_nm_bound: bound,
  brake_max_nm: maybe.describe(
    'most torque of the brake part, over lift-off; null where the two cannot be parted',
  ),
  brake_max_nm_plus_minus: maybe,
  brake_max_nm_bound: bound,
  fade_kmh_bound: bound,
  lift_fade_kmh: span.nullable(),
  lift_fade_kmh_plus_minus: maybe,
  lift_fade_kmh_bound: bound,
  friction_per_bar: maybe.describe('m/s² per bar'),
  friction_per_bar_plus_minus: maybe,
  friction_per_bar_bound: bound,
  limited_share_percent: maybe,
  limited_share_percent_plus_minus: maybe,
  limited_share_percent_bound: bound,
  lock_margin: maybe.describe('least grip at which the driven axle holds under regeneration alone'),
  lock_margin_plus_minus: maybe,
  lock_margin_bound: bound,
  lift_lock_margin: maybe.describe('the same with no foot on the brake'),
  curve: z
    .array(z.tuple([z.number(), z.number()]))
    .describe('the map above its fades, [bar, N·m in all], straight between its points, up to what was seen'),
  file_curve: z
    .array(z.tuple([z.number(), z.number()]))
    .default([])
    .describe(
      "the vehicle file's map in the same way, lift-off and how the two join as this drive showed them",
    ),
  feel: z.array(feelSchema),
  start_bar: maybe,
  start_bar_plus_minus: maybe,
  start_bar_bound: z.enum(['exact', 'at-least', 'at-most']),
  full_bar: maybe,
  full_bar_plus_minus: maybe,
  full_bar_bound: z.enum(['exact', 'at-least', 'at-most']),
  max_nm: maybe,
  max_nm_plus_minus: maybe,
  max_nm_bound: z.enum(['exact', 'at-least', 'at-most']),
  fade_kmh: span.nullable(),
  fade_kmh_plus_minus: maybe,
  delay_s: maybe,
  delay_s_plus_minus: maybe,
  applications: z.array(applicationSchema),
  limited_by: z.array(z.object({ cause: z.string(), time_s: z.number(), lost_wh: maybe })),
  recovered_wh: maybe,
  recovered_wh_plus_minus: maybe,
  share_percent: maybe,
  share_percent_plus_minus: maybe,
  replays: z.array(replaySchema),
  proposals: z.array(proposalSchema),
  proposals_withheld: z.string().nullable().describe('why no proposal is made'),
  to_propose: z.string().nullable().describe('what to drive where this drive shows too little to propose'),
})

export const isolationSchema = z.object({
  ohm_per_volt: maybe,
  ohm_per_volt_plus_minus: maybe,
  lowest_ohm_per_volt: maybe,
  highest_working_v: maybe,
  settled_from_s: maybe,
  trend_percent_per_h: maybe,
  side: z.string().nullable(),
  note: z.string().nullable(),
})

export const energySchema = z.object({
  out_wh: maybe,
  out_wh_plus_minus: maybe,
  in_wh: maybe,
  in_wh_plus_minus: maybe,
  net_wh: maybe,
  net_wh_plus_minus: maybe,
  wh_per_km: maybe,
  wh_per_km_plus_minus: maybe,
  ah_out: maybe,
  ah_out_plus_minus: maybe,
  ah_in: maybe,
  ah_in_plus_minus: maybe,
})
export type Energy = z.infer<typeof energySchema>

export const peakSchema = z.object({
  current_a: maybe,
  charge_current_a: maybe,
  rms_current_a: maybe,
  power_w: maybe,
  speed_kmh: maybe,
  lowest_cell_v: maybe,
  highest_cell_v: maybe,
  hottest_c: maybe,
  sag_v: maybe.describe('pack voltage lost at the peak current'),
})

export const driveSchema = z.object({
  files: z.array(
    z.object({
      name: z.string(),
      sha256: z.string(),
      layout: z.string(),
      rows: z.int(),
      skipped: z.array(z.object({ what: z.string(), count: z.int(), first: z.string() })),
      clock: z.object({
        offset_s: z.number(),
        drift_ppm: z.number(),
        plus_minus_s: maybe,
        found_from: z.string(),
        steps: z.array(z.object({ at_s: z.number(), step_s: z.number(), why: z.string() })),
      }),
    }),
  ),
  segments: z.array(
    z.object({
      span_s: span,
      type: z.enum(['parked', 'starting', 'driving', 'charging', 'unknown']),
      key_cycle: z.int(),
      cut: z.enum(['none', 'start', 'end']),
    }),
  ),
  started_at: z.string().nullable(),
  duration_s: z.number(),
  distance_km: maybe,
  peak: peakSchema,
})

export const channelReportSchema = z.object({
  id: z.string(),
  from: z.string(),
  unit_in: z.string().nullable(),
  conversion: z.string(),
  samples: z.int(),
  rate_hz: maybe,
  gaps: z.array(span),
  sureness: z.number().min(0).max(1),
  why: z.string(),
})

export const assumptionSchema = z.object({
  what: z.string(),
  value: z.union([z.string(), z.number(), z.null()]),
  unit: z.string(),
  source: z.string().describe('vehicle file, learned from the log, default …'),
})
export type Assumption = z.infer<typeof assumptionSchema>

export const timelineSchema = z.object({
  at_s: z.number(),
  what: z.string(),
  channel: z.string().nullable(),
})

/** One line of the check sheet: what to look at, with what, what to expect, what each outcome tells. */
export const checkSchema = z.object({
  what: z.string(),
  instrument: z.string(),
  expect: z.string(),
  tells: z.string(),
  cautions: z.array(z.string()),
  known: z
    .string()
    .nullable()
    .describe('what the log or a reading at the car already answers, crossing the line off'),
})

export const VERDICT_STATES = [
  'cannot-drive',
  'stop',
  'attention',
  'too-little-assessed',
  'nothing-found',
] as const
export type VerdictState = (typeof VERDICT_STATES)[number]

/** The review in one line, and what can hurt the person at the car before a hand is laid on it. */
export const verdictSchema = z.object({
  state: z.enum(VERDICT_STATES).describe('the first that holds, in this order'),
  also: z.array(z.enum(VERDICT_STATES)).describe('the others that hold too'),
  sentence: z.string(),
  before_touching: z.array(z.string()),
})
export type Verdict = z.infer<typeof verdictSchema>

const heardSchema = z.object({
  car: z.string().nullable(),
  title: z.string(),
  started_at: z.string().nullable(),
  files: z.array(z.object({ name: z.string(), sha256: z.string() })),
})

export const historySchema = z.object({
  car: z.string().nullable(),
  kit: z.string().nullable(),
  drives: z.array(heardSchema).describe('other stored drives of the car, the oldest first'),
  siblings: z.array(heardSchema).describe('one drive of each other car of the kit'),
})

export const reviewSchema = z.object({
  schema: z.literal(2),
  verdict: verdictSchema,
  drive: driveSchema,
  channels: z.array(channelReportSchema),
  assumptions: z.array(assumptionSchema),
  questions: z.array(questionSchema),
  findings: z.array(findingSchema),
  starts: z.array(startSchema),
  charges: z.array(chargeSchema),
  charge_sessions: z.array(chargeSessionSchema).optional().describe('left out where no charge is in the log'),
  check_sheet: z.array(checkSchema),
  cells: z.array(cellSchema),
  cell_rest: cellRestSchema.nullable().optional().describe('null where the log shows no rest'),
  modules: z.array(moduleSchema),
  pedal: pedalSchema.nullable(),
  regen: regenSchema.nullable(),
  precharge: z.array(prechargeSchema),
  isolation: isolationSchema.nullable(),
  energy: energySchema,
  timeline: z.array(timelineSchema),
  readings: z.array(readingAnswerSchema).optional().describe('readings taken at the car (--readings)'),
  history: historySchema
    .optional()
    .describe('stored drives that entered this review beside its own logs (--with CAR, --save, the page)'),
})
export type Review = z.infer<typeof reviewSchema>

export const NOTICE =
  'Findings from a log; not an inspection, approval or proof that anything is dead. Local rules and licensed practice come first.'

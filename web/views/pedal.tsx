import { useEffect } from 'preact/hooks'
import type { Review } from '../../shared/review.ts'
import { clockText, numberText, withInterval } from '../../shared/wording.ts'
import { ChartStack, channelsOf } from '../chart/chart-stack.tsx'
import { XyChart } from '../chart/xy-chart.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { FiguresList } from '../parts/figures-list.tsx'
import { AskedHere, FoundHere, NotHere } from '../parts/related.tsx'
import { usePairs } from '../parts/use-pairs.ts'
import { around, showSpan } from '../state.ts'
import type { ViewProps } from './drive-frame.tsx'
import { useVehicle } from './pack.tsx'

type PedalReview = NonNullable<Review['pedal']>

const RELATIONS: Readonly<Record<PedalReview['relation'], string>> = {
  mirrored: 'one falls as the other rises',
  'same-way': 'both rise, one by less',
  offset: 'both rise alike, one higher',
  shorted: 'both read the same',
  unknown: 'cannot be told',
}
const ENDS: Readonly<Record<PedalReview['end_points_from'], string>> = {
  'vehicle-file': 'from the vehicle file',
  learned: 'learned from this drive',
  unknown: 'not known',
}
/** Points of travel; the rule's usual figure where the vehicle file gives none. */
const USUAL_MISMATCH = 10

const CHARTS = [
  ['pedal_track_1', 'pedal_track_2'],
  ['pedal_position'],
  ['brake_switch'],
  ['torque_request', 'torque'],
]

/** Track against track with the tolerance band; torque request against the pedal. */
export function Pedal({ drive }: ViewProps) {
  const { pedal } = drive.review
  const { id, duration_s } = drive.summary
  const vehicle = useVehicle(drive)
  const limit = vehicle.pedal?.mismatch_percent ?? USUAL_MISMATCH
  const whole = [0, duration_s] as const
  const has = (channel: string) => drive.channels.find((each) => each.id === channel)
  const tracks = usePairs(id, has('pedal_track_1')?.id, has('pedal_track_2')?.id, whole)
  const travel = has('pedal_position') ?? has('pedal_track_1')
  const torque = has('torque_request') ?? has('torque')
  const request = usePairs(id, travel?.id, torque?.id, whole)
  const worst = pedal?.worst_held_at_s ?? null
  useEffect(() => {
    if (worst !== null) showSpan(around([worst - 3, worst + 3]))
  }, [worst])
  const lanes = CHARTS.map((ids) => channelsOf(drive, ids)).filter((lane) => lane.length > 0)
  return (
    <>
      <h1>Accelerator pedal</h1>
      <FoundHere drive={drive} view="pedal" />
      {pedal ? (
        <PedalFigures pedal={pedal} limit={limit} />
      ) : (
        <NotHere
          drive={drive}
          areas={['pedal']}
          what="The two tracks could not be held against each other."
        />
      )}
      <div class="two-up">
        {tracks && tracks.x.length > 1 ? (
          <div class="panel">
            <XyChart
              title="Track 2 against track 1"
              xLabel={`Track 1, ${has('pedal_track_1')?.unit || 'as logged'}`}
              yLabel={`Track 2, ${has('pedal_track_2')?.unit || 'as logged'}`}
              dots={tracks}
              lines={pedal ? trackLine(pedal) : []}
              band={pedal ? tolerance(pedal, limit) : null}
              says={`${tracks.samples} samples of both tracks; the band is ${limit} % of travel either way.`}
            />
          </div>
        ) : null}
        {request && request.x.length > 1 && torque ? (
          <div class="panel">
            <XyChart
              title={`${torque.label} against pedal`}
              xLabel={`${travel!.label}, ${travel!.unit}`}
              yLabel={torque.unit}
              dots={request}
              says={`${request.samples} samples.`}
            />
          </div>
        ) : null}
      </div>
      {lanes.length > 0 ? (
        <>
          <h2>
            {worst === null ? 'Over time' : `Around the worst held difference, at ${clockText(worst, true)}`}
          </h2>
          <ChartTools />
          <ChartStack drive={drive} charts={lanes} />
        </>
      ) : null}
      <AskedHere drive={drive} areas={['pedal']} />
    </>
  )
}

function PedalFigures({ pedal, limit }: { pedal: PedalReview; limit: number }) {
  const worst = pedal.worst_held_points
  return (
    <section class="panel">
      <p class="lead">
        {worst === null
          ? 'How far the tracks stood apart cannot be told from this log.'
          : `The tracks stood ${withInterval(worst, pedal.worst_held_points_plus_minus, '%')} of travel apart at most, held; the limit is ${numberText(limit)} %.`}
      </p>
      <p>
        The tracks: {RELATIONS[pedal.relation]}. End points {ENDS[pedal.end_points_from]}
        {pedal.track_1_v ? `; track 1 ${voltsText(pedal.track_1_v)}` : ''}
        {pedal.track_2_v ? `; track 2 ${voltsText(pedal.track_2_v)}` : ''}.
      </p>
      <FiguresList
        figures={[
          {
            name: 'Worst held difference',
            value: worst,
            plusMinus: pedal.worst_held_points_plus_minus,
            unit: 'points',
          },
          {
            name: 'Track 2 is read later by',
            value: ms(pedal.skew_s),
            plusMinus: ms(pedal.skew_s_plus_minus),
            unit: 'ms',
          },
          { name: 'Travel of track 2 over that of track 1', value: pedal.gain_ratio, unit: '' },
          {
            name: 'Lasting difference of the tracks',
            value: hundredths(pedal.offset_points),
            unit: 'points',
          },
          { name: 'Noise of the difference', value: hundredths(pedal.noise_points), unit: 'points' },
          { name: 'Pressing against releasing', value: hundredths(pedal.hysteresis_points), unit: 'points' },
          { name: 'Time between samples', value: ms(pedal.sample_s), unit: 'ms' },
        ]}
      />
    </section>
  )
}

/** Finer than a hundredth of a point of travel nobody reads. */
const hundredths = (points: number | null) => (points === null ? null : Math.round(points * 100) / 100)
const ms = (seconds: number | null) => (seconds === null ? null : seconds * 1000)
const voltsText = ([from, to]: readonly [number, number]) =>
  `${numberText(from)} V released, ${numberText(to)} V pressed`

type Pair = readonly [number, number]

/** Track 2's voltage at a share of travel, and track 1's. */
function trackLine({ track_1_v, track_2_v }: PedalReview) {
  if (!track_1_v || !track_2_v) return []
  return [
    {
      label: 'tracks that agree',
      points: [
        [track_1_v[0], track_2_v[0]],
        [track_1_v[1], track_2_v[1]],
      ] satisfies Pair[],
    },
  ]
}

function tolerance({ track_1_v, track_2_v }: PedalReview, points: number) {
  if (!track_1_v || !track_2_v) return null
  const by = ((track_2_v[1] - track_2_v[0]) * points) / 100
  return {
    label: `within ${points} points`,
    outline: [
      [track_1_v[0], track_2_v[0] + by],
      [track_1_v[1], track_2_v[1] + by],
      [track_1_v[1], track_2_v[1] - by],
      [track_1_v[0], track_2_v[0] - by],
    ] satisfies Pair[],
  }
}

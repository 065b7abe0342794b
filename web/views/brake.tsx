import { useState } from 'preact/hooks'
import type { Review } from '../../shared/review.ts'
import { FORM_WORDS, numberText, sentence } from '../../shared/wording.ts'
import { XyChart, type XyLine } from '../chart/xy-chart.tsx'
import { Compare } from '../parts/compare.tsx'
import { FiguresList } from '../parts/figures-list.tsx'
import { AskedHere, FoundHere, NotHere } from '../parts/related.tsx'
import { usePairs } from '../parts/use-pairs.ts'
import { Applications } from './brake-applications.tsx'
import type { ViewProps } from './drive-frame.tsx'
import { KeepMap } from './keep-map.tsx'
import { mapLine } from './map-line.ts'
import { TypeIn } from './map-table.tsx'
import { Replay } from './replay.tsx'

type Regen = NonNullable<Review['regen']>

const PRESSES = ['brake_pressure', 'brake_pressure_front', 'brake_pressure_rear', 'brake_travel']

/** Regeneration against brake pressure: the map the drive shows, each application, and what another map would give. */
export function Brake({ drive }: ViewProps) {
  const { regen } = drive.review
  const [wished, setWished] = useState<XyLine | null>(null)
  const press = PRESSES.map((id) => drive.channels.find((each) => each.id === id)).find((each) => each)
  const torque = ['torque_request', 'torque']
    .map((id) => drive.channels.find((c) => c.id === id))
    .find((c) => c)
  const found = usePairs(drive.summary.id, press?.id, torque?.id, [0, drive.summary.duration_s])
  const dots = found ? braking(found) : null
  const shown = regen ? mapLine('map of this drive, above the fade', regen.curve) : null
  const asBuilt = regen ? mapLine('map of the vehicle file', regen.file_curve) : null
  const lines = [shown, asBuilt, wished].filter((line) => line !== null)
  return (
    <>
      <h1>Brake and regeneration</h1>
      <FoundHere drive={drive} kinds={/^(regen|brake|wheel|lamp)/} />
      {regen ? (
        <RegenFigures regen={regen} unit={press?.id === 'brake_travel' ? '%' : 'bar'} />
      ) : (
        <NotHere
          drive={drive}
          areas={['brake']}
          asks={/^From which brake pressure/}
          what="No map of regeneration could be read from this drive."
        />
      )}
      <div class="two-up">
        {press && torque && !found ? <p class="panel">Drawing the map …</p> : null}
        {dots && dots.x.length > 1 && press && torque ? (
          <div class="panel">
            <XyChart
              title="Regeneration against brake pressure"
              xLabel={`${press.label}, ${press.unit}`}
              yLabel={`${torque.label} (slowing), ${torque.unit}`}
              dots={dots}
              lines={lines}
              height={400}
              says={`${dots.x.length} groups of samples with the motor slowing the car.`}
            />
            <p class="soft">
              Dots below the line are moments at low speed (fade), while something limits, or before the press
              has worked through.
            </p>
          </div>
        ) : null}
        {regen ? (
          <Replay
            drive={drive}
            regen={regen}
            onWish={setWished}
            ready={!press || !torque || found !== null}
          />
        ) : null}
      </div>
      {regen ? <Proposals drive={drive} regen={regen} /> : null}
      {regen && regen.applications.length > 0 ? (
        <Applications regen={regen} driveId={drive.summary.id} />
      ) : null}
      <Compare drive={drive} />
      <AskedHere drive={drive} areas={['brake']} />
    </>
  )
}

/** Slowing torque as positive figures; driving torque is left out. */
function braking({ x, y, count }: { x: readonly number[]; y: readonly number[]; count: readonly number[] }) {
  const keep = x.map((_, i) => i).filter((i) => y[i]! < 0)
  return { x: keep.map((i) => x[i]!), y: keep.map((i) => -y[i]!), count: keep.map((i) => count[i]!) }
}

function RegenFigures({ regen, unit }: { regen: Regen; unit: string }) {
  return (
    <section class="panel">
      <FiguresList
        figures={[
          {
            name: 'Regeneration starts at',
            value: regen.start_bar,
            plusMinus: regen.start_bar_plus_minus,
            unit,
            bound: regen.start_bar_bound,
          },
          {
            name: 'Full from',
            value: regen.full_bar,
            plusMinus: regen.full_bar_plus_minus,
            unit,
            bound: regen.full_bar_bound,
          },
          {
            name: 'Most slowing torque in all',
            value: regen.max_nm,
            plusMinus: regen.max_nm_plus_minus,
            unit: 'N·m',
            bound: regen.max_nm_bound,
          },
          {
            name: 'Fades below',
            value: regen.fade_kmh?.[1] ?? null,
            plusMinus: regen.fade_kmh_plus_minus,
            unit: 'km/h',
            note: regen.fade_kmh ? `and is gone at ${numberText(regen.fade_kmh[0], 2)} km/h` : '',
          },
          {
            name: 'On lift-off',
            value: regen.lift_nm,
            plusMinus: regen.lift_nm_plus_minus,
            unit: 'N·m',
            bound: regen.lift_nm_bound,
          },
          {
            name: 'Most over lift-off',
            value: regen.brake_max_nm,
            plusMinus: regen.brake_max_nm_plus_minus,
            unit: 'N·m',
            bound: regen.brake_max_nm_bound,
            note: regen.form ? FORM_WORDS[regen.form] : '',
          },
          {
            name: 'Delay',
            value: regen.delay_s === null ? null : regen.delay_s * 1000,
            plusMinus: regen.delay_s_plus_minus === null ? null : regen.delay_s_plus_minus * 1000,
            unit: 'ms',
          },
          {
            name: 'Friction per bar',
            value: regen.friction_per_bar,
            plusMinus: regen.friction_per_bar_plus_minus,
            unit: 'm/s²',
          },
          {
            name: 'Braking held back by a limit',
            value: regen.limited_share_percent,
            plusMinus: regen.limited_share_percent_plus_minus,
            unit: '%',
          },
          {
            name: 'Grip that regeneration alone needs',
            value: regen.lock_margin,
            plusMinus: regen.lock_margin_plus_minus,
            unit: '',
            bound: regen.lock_margin_bound,
            note:
              regen.lift_lock_margin === null
                ? ''
                : `${numberText(regen.lift_lock_margin, 2)} with no foot on the brake`,
          },
          ...regen.feel.map(({ what, value, plus_minus, unit: of, limit, limit_source }) => ({
            name: sentence(what).replace(/\.$/, ''),
            value,
            plusMinus: plus_minus,
            unit: of,
            note: limit === null ? limit_source : `limit ${numberText(limit)} ${of} (${limit_source})`,
          })),
          { name: 'Sensor’s zero', value: regen.zero_bar, unit },
          {
            name: 'Recovered',
            value: regen.recovered_wh,
            plusMinus: regen.recovered_wh_plus_minus,
            unit: 'Wh',
          },
          {
            name: 'Share of the energy drawn',
            value: regen.share_percent,
            plusMinus: regen.share_percent_plus_minus,
            unit: '%',
          },
        ]}
      />
      {regen.limited_by.length > 0 ? (
        <p>
          Held back by{' '}
          {regen.limited_by
            .map(
              ({ cause, time_s, lost_wh }) =>
                `${cause} for ${numberText(time_s)} s${lost_wh === null ? '' : ` (${numberText(lost_wh)} Wh lost)`}`,
            )
            .join(', ')}
          .
        </p>
      ) : null}
    </section>
  )
}

function Proposals({ drive, regen }: { drive: ViewProps['drive']; regen: Regen }) {
  if (regen.proposals.length === 0)
    return regen.proposals_withheld ? (
      <p class="panel">
        No change of the map is proposed: {regen.proposals_withheld}.{' '}
        {regen.to_propose ? `To see more: ${regen.to_propose}` : ''}
      </p>
    ) : null
  return (
    <section>
      <h2>Proposed maps</h2>
      <ul class="plain-list">
        {regen.proposals.map((proposal, at) => (
          <li key={at} class="panel">
            <h3>
              Start {numberText(proposal.map.start_bar)} bar, full {numberText(proposal.map.full_bar)} bar,
              most {numberText(proposal.map.max_nm)} N·m, fade{' '}
              {proposal.map.fade_kmh.map((v) => numberText(v)).join(' to ')} km/h
            </h3>
            <p>{sentence(proposal.reason)}</p>
            {proposal.aims.length > 0 ? <p>Meets: {proposal.aims.join('; ')}.</p> : null}
            <TypeIn table={proposal.table} />
            <KeepMap drive={drive} map={proposal.map} />
            <p>
              <b>The same press with regeneration gone:</b> {proposal.without_regen}
            </p>
            <div class="cautions">
              <ul>
                {proposal.cautions.map((caution) => (
                  <li key={caution}>{caution}</li>
                ))}
              </ul>
            </div>
          </li>
        ))}
      </ul>
    </section>
  )
}

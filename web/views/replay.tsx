import { useEffect, useRef, useState } from 'preact/hooks'
import type { DriveAnswer, ReplayAnswer } from '../../shared/api.ts'
import type { RegenMap, Review } from '../../shared/review.ts'
import { numberText, withInterval } from '../../shared/wording.ts'
import { replay } from '../api.ts'
import type { XyLine } from '../chart/xy-chart.tsx'
import { figureHeadings, ScrollTable } from '../parts/scroll-table.tsx'
import { fail } from '../state.ts'
import { KeepMap } from './keep-map.tsx'
import { drivenMap, mapLine } from './map-line.ts'

type Regen = NonNullable<Review['regen']>
type Row = ReplayAnswer['replays'][number]

/** Sliders for another map; this very drive is replayed with it at once. */
export function Replay({
  drive,
  regen,
  onWish,
  ready,
}: {
  drive: DriveAnswer
  regen: Regen
  onWish: (line: XyLine | null) => void
  /** The first replay reads the whole drive: it waits until the chart beside it is drawn. */
  ready: boolean
}) {
  const first = drivenMap(regen)
  const [map, setMap] = useState<RegenMap | null>(first)
  const [answer, setAnswer] = useState<ReplayAnswer | null>(null)
  const latest = useRef(0)
  const changed = map !== null && first !== null && JSON.stringify(map) !== JSON.stringify(first)
  useEffect(() => {
    if (!map || !drive.can_replay || !ready) return
    const mine = ++latest.current
    replay(drive.summary.id, map).then((got) => {
      if (mine !== latest.current) return
      setAnswer(got)
      onWish(changed ? mapLine('map on the sliders', got.line) : null)
    }, fail)
  }, [map, drive, changed, onWish, ready])
  if (!drive.can_replay || !map || !first)
    return (
      <p class="panel">
        This drive cannot be replayed with another map: the map it was driven with, or what the replay needs
        beside it, is not in the log.
      </p>
    )
  const set = (change: Partial<RegenMap>) => setMap(ordered({ ...map, ...change }))
  return (
    <section class="panel" aria-labelledby="replay-title">
      <h2 id="replay-title">The same drive with another map</h2>
      <Slider
        label="Starts at"
        unit="bar"
        value={map.start_bar}
        min={0}
        max={40}
        step={0.5}
        onInput={(start_bar) => set({ start_bar })}
      />
      <Slider
        label={regen.full_bar_bound === 'exact' ? 'Full at' : 'Rises to'}
        unit="bar"
        value={map.full_bar}
        min={1}
        max={80}
        step={0.5}
        onInput={(full_bar) => set({ full_bar })}
      />
      <Slider
        label={regen.max_nm_bound === 'exact' ? 'Most torque' : 'Torque there'}
        unit="N·m"
        value={map.max_nm}
        min={0}
        max={first.max_nm}
        step={1}
        onInput={(max_nm) => set({ max_nm })}
      />
      <Slider
        label="Fade ends"
        unit="km/h"
        value={map.fade_kmh[0]}
        min={0}
        max={30}
        step={0.5}
        onInput={(low) => set({ fade_kmh: [low, Math.max(low + 0.5, map.fade_kmh[1])] })}
      />
      <Slider
        label="Fade begins"
        unit="km/h"
        value={map.fade_kmh[1]}
        min={1}
        max={50}
        step={0.5}
        onInput={(high) => set({ fade_kmh: [Math.min(map.fade_kmh[0], high - 0.5), high] })}
      />
      <p class="soft">
        Torque stops at the most that this drive showed. A lower start or full pressure gives more
        regeneration at a light press: before that is tried, check against the driven axle locking.
      </p>
      <button type="button" disabled={!changed} onClick={() => setMap(first)}>
        Back to the map of the drive
      </button>
      {changed ? <KeepMap key={JSON.stringify(map)} drive={drive} map={map} /> : null}
      {answer ? (
        <BeforeAfter answer={answer} />
      ) : (
        <p role="status">Getting the drive ready for the replay …</p>
      )}
    </section>
  )
}

/** Full stays above start. */
function ordered(map: RegenMap): RegenMap {
  return map.full_bar > map.start_bar ? map : { ...map, full_bar: map.start_bar + 0.5 }
}

function Slider({
  label,
  unit,
  value,
  min,
  max,
  step,
  onInput,
}: {
  label: string
  unit: string
  value: number
  min: number
  max: number
  step: number
  onInput: (value: number) => void
}) {
  return (
    <label class="slider">
      <span>{label}</span>
      <input
        type="range"
        min={min}
        max={max}
        step={step}
        value={value}
        aria-valuetext={`${numberText(value)} ${unit}`}
        onInput={(event) => onInput(Number(event.currentTarget.value))}
      />
      <span class="tabular">
        {numberText(value)} {unit}
      </span>
    </label>
  )
}

const DRIVERS: Readonly<Record<Row['driver'], string>> = {
  'same-pressure': 'Pressed the same',
  'same-deceleration': 'Slowed the same',
}

/** Before and after, with both ends of the driver: presses the same, or slows the same. */
function BeforeAfter({ answer }: { answer: ReplayAnswer }) {
  const { before, replays, cautions } = answer
  const columns: readonly (readonly [string, Row])[] = [
    ...(before ? [['As driven', before] as const] : []),
    ...replays.map((row) => [DRIVERS[row.driver], row] as const),
  ]
  const rows: readonly (readonly [string, (row: Row) => string])[] = [
    ['Recovered, Wh', (row) => text(row.recovered_wh, row.recovered_wh_plus_minus)],
    ['Share of the energy drawn, %', (row) => text(row.share_percent, null)],
    ['Highest charging current, A', (row) => text(row.peak_charge_a, row.peak_charge_a_plus_minus)],
    ['Braking time at a limit, %', (row) => text(row.at_limit_percent, null)],
    [
      'Deceleration, m/s² per bar',
      (row) => text(row.deceleration_per_bar, row.deceleration_per_bar_plus_minus),
    ],
  ]
  return (
    <>
      <p class="soft">
        The new map twice: with the pedal pressed as on this drive, and with the car slowed as on this drive.
      </p>
      <ScrollTable
        label="Before and after"
        headings={[{ text: 'Figure', hidden: true }, ...figureHeadings(...columns.map(([name]) => name))]}
      >
        {rows.map(([name, of]) => (
          <tr key={name}>
            <th scope="row">{name}</th>
            {columns.map(([column, row]) => (
              <td key={column} class="num">
                {of(row)}
              </td>
            ))}
          </tr>
        ))}
      </ScrollTable>
      <p>
        <b>The same press with regeneration gone</b> (full battery, cold, a limit, contactors open): friction
        alone slows by{' '}
        {answer.friction_alone_per_bar === null
          ? 'an amount that cannot be told from this drive'
          : `${withInterval(answer.friction_alone_per_bar, answer.friction_alone_per_bar_plus_minus, 'm/s²')} per bar`}
        .
      </p>
      {cautions.map((caution) => (
        <p key={caution} class="caution-line">
          ■ {caution}
        </p>
      ))}
    </>
  )
}

const text = (value: number | null, plusMinus: number | null) =>
  value === null ? '–' : withInterval(value, plusMinus, '')

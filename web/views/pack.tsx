import { useMemo, useState } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import { type Vehicle, vehicleSchema } from '../../shared/vehicle.ts'
import { clockText, numberText } from '../../shared/wording.ts'
import { inkOn, scaleColour } from '../chart/colours.ts'
import { AskedHere, FoundHere, NotHere } from '../parts/related.tsx'
import { choose } from '../route.ts'
import { state } from '../state.ts'
import { useStore } from '../store.ts'
import { CellPanel } from './cell-panel.tsx'
import type { ViewProps } from './drive-frame.tsx'
import {
  AT_MOMENT,
  FIGURES,
  type FigureKey,
  limitOf,
  scaleEnds,
  shortText,
  useFigure,
  usualFigure,
} from './pack-figures.ts'
import { boxesOf } from './pack-layout.ts'

/** Modules of at most so many cells keep to one row when two boxes stand side by side. */
const SIDE_BY_SIDE = 12

/** The boxes and modules as built, each cell coloured and numbered by a chosen figure. */
export function Pack({ drive, item }: ViewProps) {
  const vehicle = useVehicle(drive)
  const cells = useMemo(() => cellsOf(drive, vehicle), [drive, vehicle])
  const [chosenFigure, setFigure] = useState<FigureKey | null>(null)
  const figure = chosenFigure ?? usualFigure(drive)
  const values = useFigure(drive, vehicle, cells, figure)
  if (cells.length === 0)
    return (
      <>
        <h1>Pack</h1>
        <NotHere
          drive={drive}
          areas={['pack']}
          what="No single cells are in this log, so there is no picture of the pack."
        />
        <FoundHere drive={drive} view="pack" />
        <AskedHere drive={drive} areas={['pack']} />
      </>
    )
  const compared = drive.review.cells.some((cell) => typeof cell.growth_mohm === 'number')
  const known = [...values.values()]
  const [low, high] = scaleEnds(figure, known)
  const share = (value: number) => (high > low ? (value - low) / (high - low) : 0)
  const [, name, unit] = FIGURES.find(([key]) => key === figure)!
  const picked = Number(item) || null
  const accused = accusedCells(drive)
  const boxes = boxesOf(vehicle, cells)
  const widest = Math.max(...boxes.flatMap((box) => box.modules.map((module) => module.cells.length)))
  return (
    <>
      <h1>Pack</h1>
      <FoundHere drive={drive} view="pack" />
      <div class="tool-row">
        <label class="field">
          Colour the cells by
          <select value={figure} onChange={(event) => setFigure(event.currentTarget.value as FigureKey)}>
            {FIGURES.filter(([key]) => key !== 'growth_mohm' || compared).map(([key, label, each]) => (
              <option key={key} value={key}>
                {label}, {each}
              </option>
            ))}
          </select>
        </label>
        {AT_MOMENT.includes(figure) ? <Scrub drive={drive} /> : null}
      </div>
      {known.length === 0 ? (
        <p class="panel">
          {AT_MOMENT.includes(figure)
            ? 'Nothing is logged at this moment.'
            : `${name}: this drive could not tell it for any cell.`}
        </p>
      ) : (
        <Legend
          low={low}
          high={high}
          unit={unit}
          name={name}
          limit={limitOf(figure)}
          framed={accused.size > 0}
          gaps={boxes.some((box) => box.longAfter.size > 0)}
        />
      )}
      <div class={picked ? 'pack-split' : ''}>
        <div class={picked || widest > SIDE_BY_SIDE ? 'boxes' : 'boxes boxes-wide'}>
          {boxes.map((box) => (
            <section key={box.name} class="box" aria-label={box.name}>
              {box.modules[0]?.known ? (
                <h2 class="box-name">{box.name}</h2>
              ) : (
                <p class="soft">
                  Modules are not known: “cells per module” in the vehicle file draws the pack as built.
                </p>
              )}
              {box.modules.map((module) => (
                <div key={module.index} class="module">
                  <h3>{module.known ? `Module ${module.index}` : 'All cells, in order'}</h3>
                  <ul class="cell-row">
                    {module.cells.map((cell) => {
                      const value = values.get(cell)
                      const s = value === undefined ? 0 : share(value)
                      const says = accused.get(cell)
                      return (
                        <li key={cell} class={box.longAfter.has(cell) ? 'long-after' : ''}>
                          <button
                            type="button"
                            class={`cell ${says ? 'cell-accused' : ''}`}
                            aria-pressed={picked === cell}
                            aria-label={`Cell ${cell}: ${value === undefined ? 'not known' : `${numberText(value)} ${unit}`}${says ? `, ${says}` : ''}`}
                            style={value === undefined ? {} : { background: scaleColour(s), color: inkOn(s) }}
                            onClick={() => choose(picked === cell ? '' : String(cell))}
                          >
                            <span class="cell-number">{cell}</span>
                            <span class="cell-value tabular">
                              {value === undefined ? '–' : shortText(value, unit)}
                            </span>
                          </button>
                        </li>
                      )
                    })}
                  </ul>
                </div>
              ))}
            </section>
          ))}
        </div>
        {picked ? <CellPanel drive={drive} index={picked} last={cells.length} /> : null}
      </div>
      <AskedHere drive={drive} areas={['pack']} />
    </>
  )
}

function Legend({
  low,
  high,
  unit,
  name,
  limit,
  framed,
  gaps,
}: {
  low: number
  high: number
  unit: string
  name: string
  limit: number | null
  framed: boolean
  gaps: boolean
}) {
  const stops = Array.from({ length: 9 }, (_, i) => scaleColour(i / 8)).join(', ')
  return (
    <div class="legend">
      <span class="tabular">
        {shortText(low, unit)} {unit}
      </span>
      <span
        class="legend-bar"
        role="img"
        aria-label={`Scale of ${name}${limit === null ? '' : `, limit ${numberText(limit)} ${unit}`}`}
        style={{ background: `linear-gradient(90deg, ${stops})` }}
      >
        {limit !== null && limit > low && limit < high ? (
          <span class="legend-limit" style={{ left: `${((limit - low) / (high - low)) * 100}%` }} />
        ) : null}
      </span>
      <span class="tabular">
        {shortText(high, unit)} {unit}
      </span>
      <span class="soft">
        {limit === null ? '' : `Limit: ${numberText(limit)} ${unit}. `}
        {framed ? 'A thick frame marks what a finding names. ' : ''}
        {gaps ? 'A gap marks a longer busbar or cable.' : ''}
      </span>
    </div>
  )
}

/** A slider through the drive: the moment that the cells show. */
function Scrub({ drive }: { drive: DriveAnswer }) {
  const at = useStore(state, (now) => now.cursorS) ?? 0
  return (
    <label class="field scrub">
      <span class="tabular">Moment: {clockText(at, true)}</span>
      <input
        type="range"
        min="0"
        max={drive.summary.duration_s}
        step={Math.max(0.1, drive.summary.duration_s / 2000)}
        value={at}
        onInput={(event) => state.set({ cursorS: Number(event.currentTarget.value) })}
      />
    </label>
  )
}

export function useVehicle(drive: DriveAnswer): Vehicle {
  return useMemo(() => {
    const parsed = vehicleSchema.safeParse(drive.vehicle)
    return parsed.success ? parsed.data : {}
  }, [drive])
}

/** Cell numbers: those measured, those logged, those the vehicle file names. */
function cellsOf(drive: DriveAnswer, vehicle: Vehicle): number[] {
  let most = drive.review.cells.reduce((max, cell) => Math.max(max, cell.index), vehicle.pack?.cells ?? 0)
  let logged = drive.review.cells.length
  for (const { id } of drive.channels)
    if (id.startsWith('cell_voltage.')) {
      most = Math.max(most, Number(id.slice(13)))
      logged++
    }
  return logged === 0 ? [] : Array.from({ length: most }, (_, i) => i + 1)
}

function accusedCells({ review: { findings } }: DriveAnswer): Map<number, string> {
  const out = new Map<number, string>()
  for (const { subject, severity, headline } of findings) {
    if (severity === 'note' || subject.index === undefined) continue
    if (!['joint', 'cell', 'cell-pair'].includes(subject.type)) continue
    out.set(subject.index, headline)
    if (subject.type === 'cell-pair') out.set(subject.index + 1, headline)
  }
  return out
}

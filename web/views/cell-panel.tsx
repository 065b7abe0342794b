import { useEffect, useState } from 'preact/hooks'
import type { DriveAnswer, PeerBand } from '../../shared/api.ts'
import type { CellRow } from '../../shared/review.ts'
import { classWord, numberText, withInterval } from '../../shared/wording.ts'
import { openDrive } from '../api.ts'
import { ChartStack, channelsOf } from '../chart/chart-stack.tsx'
import { Drawing } from '../chart/drawing.tsx'
import { XyChart } from '../chart/xy-chart.tsx'
import { ChartTools } from '../parts/chart-tools.tsx'
import { FiguresList } from '../parts/figures-list.tsx'
import { usePairs, usePeers } from '../parts/use-pairs.ts'
import { choose } from '../route.ts'
import { state } from '../state.ts'

/** One cell: its figures, its history beside its neighbours, its fit against current, and other drives. */
export function CellPanel({ drive, index, last }: { drive: DriveAnswer; index: number; last: number }) {
  const cell = drive.review.cells.find((each) => each.index === index)
  const neighbours = [index - 1, index, index + 1].map((each) => `cell_voltage.${each}`)
  const charts = [channelsOf(drive, neighbours), channelsOf(drive, ['pack_current'])]
  return (
    <section class="panel cell-panel" aria-label={`Cell ${index}`}>
      <div class="tool-row">
        <h2>Cell {index}</h2>
        <button type="button" disabled={index <= 1} onClick={() => choose(String(index - 1))}>
          ◀ Cell {Math.max(1, index - 1)}
        </button>
        <button type="button" disabled={index >= last} onClick={() => choose(String(index + 1))}>
          Cell {Math.min(last, index + 1)} ▶
        </button>
        <button type="button" class="quiet" onClick={() => choose('')}>
          Close
        </button>
      </div>
      {cell ? <CellFigures cell={cell} /> : <p>No figures could be worked out for this cell.</p>}
      <ChartTools />
      <ChartStack drive={drive} charts={charts} />
      <CellFit drive={drive} index={index} />
      <OtherDrives drive={drive} index={index} />
    </section>
  )
}

function CellFigures({ cell }: { cell: CellRow }) {
  const rest = cell.rest_s === null ? '' : `${Math.round(cell.rest_s)} s after load`
  const window = cell.resistance_window_s === null ? '' : `within ${numberText(cell.resistance_window_s)} s`
  return (
    <>
      <p>
        Module {cell.module}
        {cell.between_cells ? `; its joint lies between cells ${cell.between_cells.join(' and ')}` : ''}
        {cell.class ? `; read as: ${classWord(cell.class)}` : ''}.
      </p>
      <FiguresList
        figures={[
          {
            name: 'Joint, extra',
            value: cell.joint_extra_mohm,
            plusMinus: cell.joint_extra_mohm_plus_minus,
            unit: 'mΩ',
          },
          ...(cell.growth_mohm === undefined
            ? []
            : [
                {
                  name: 'Gained since the last drive',
                  value: cell.growth_mohm,
                  plusMinus: cell.growth_mohm_plus_minus ?? null,
                  unit: 'mΩ',
                  note: 'joint or cell, its peers’ change taken out',
                },
              ]),
          {
            name: 'Short-time resistance',
            value: cell.resistance_mohm,
            plusMinus: cell.resistance_mohm_plus_minus,
            unit: 'mΩ',
            note: window,
          },
          {
            name: 'Polarisation',
            value: cell.polarisation_mohm,
            plusMinus: cell.polarisation_mohm_plus_minus,
            unit: 'mΩ',
          },
          {
            name: 'Rest offset',
            value: cell.rest_offset_mv,
            plusMinus: cell.rest_offset_mv_plus_minus,
            unit: 'mV',
            note: rest,
          },
          { name: 'Lowest', value: cell.min_v, unit: 'V' },
          { name: 'Highest', value: cell.max_v, unit: 'V' },
        ]}
      />
    </>
  )
}

/** Height of the drawing, px; also kept while it loads, so that nothing jumps. */
const FIT_PX = 300

/**
 * The cell's difference from the pack's median against current, with the model's line: offset at rest, slope minus
 * its short-time resistance above the median cell's.
 */
export function CellFit({
  drive,
  index,
  height = FIT_PX,
}: {
  drive: DriveAnswer
  index: number
  height?: number
}) {
  const has = (id: string) => (drive.channels.some((channel) => channel.id === id) ? id : undefined)
  const found = usePairs(
    drive.summary.id,
    has('pack_current'),
    has(`cell_voltage.${index}`),
    [0, drive.summary.duration_s],
    'median-cell',
  )
  const band = usePeers(drive.summary.id, has('pack_current'), has(`cell_voltage.${index}`), [
    0,
    drive.summary.duration_s,
  ])
  if (!has('pack_current') || !has(`cell_voltage.${index}`)) return null
  if (!found || !band) return <Drawing height={height} />
  if (found.x.length === 0) return null
  const dots = { x: found.x, y: found.y.map((v) => v * 1000), count: found.count }
  const line = modelLine(drive, index, dots.x, ({ resistance_mohm }) => resistance_mohm)
  const settled = settledDiffers(drive, index) ? modelLine(drive, index, dots.x, settledMohm) : null
  return (
    <XyChart
      title={`Cell ${index} less the median cell, against current`}
      xLabel="Pack current, A (discharge positive)"
      yLabel="mV"
      dots={dots}
      lines={[
        ...(line ? [{ label: settled ? 'the model’s line at once' : 'the model’s line', points: line }] : []),
        ...(settled ? [{ label: 'and once settled', points: settled, beyond: true }] : []),
      ]}
      band={bandOf(band)}
      height={height}
      says={`${found.samples} samples.${line ? ` The model’s line falls by ${(((line[0]![1] - line[1]![1]) / (line[1]![0] - line[0]![0])) * 1).toFixed(3)} mV per A.` : ''}`}
    />
  )
}

/** The peers' band as an outline, in mV. */
function bandOf({ x, low, high, peers }: PeerBand) {
  if (x.length < 2) return null
  const edge = (values: readonly number[]) => x.map((at, i): [number, number] => [at, values[i]! * 1000])
  return {
    label: `its ${peers} peers, 95 in 100 samples`,
    outline: [...edge(low), ...edge(high).reverse()],
    quiet: true,
  }
}

function modelLine(
  { review: { cells } }: DriveAnswer,
  index: number,
  x: readonly number[],
  mohmOf: (cell: CellRow) => number | null,
): [number, number][] | null {
  const cell = cells.find((each) => each.index === index)
  const middle = median(cells.flatMap((each) => mohmOf(each) ?? []))
  const own = cell ? mohmOf(cell) : null
  if (!cell || own === null || middle === undefined) return null
  const slope = -(own - middle)
  const at = (amperes: number): [number, number] => [amperes, (cell.rest_offset_mv ?? 0) + slope * amperes]
  return [at(Math.min(...x)), at(Math.max(...x))]
}

const median = (values: number[]): number | undefined => values.sort((a, b) => a - b)[values.length >> 1]

const settledMohm = ({ resistance_mohm, polarisation_mohm }: CellRow): number | null =>
  resistance_mohm === null || polarisation_mohm === null ? null : resistance_mohm + polarisation_mohm

/** Is the slow part clearly another than the median cell's? Then the points lie between two lines. */
function settledDiffers({ review: { cells } }: DriveAnswer, index: number): boolean {
  const cell = cells.find((each) => each.index === index)
  const middle = median(cells.flatMap((each) => each.polarisation_mohm ?? []))
  if (!cell || cell.polarisation_mohm === null || middle === undefined) return false
  return Math.abs(cell.polarisation_mohm - middle) > (cell.polarisation_mohm_plus_minus ?? 0)
}

/** The same cell in the car's other stored drives. */
function OtherDrives({ drive, index }: { drive: DriveAnswer; index: number }) {
  const [rows, setRows] = useState<{ title: string; cell: CellRow | undefined }[] | null>(null)
  const others = (state.get().drives ?? []).filter(
    (other) => other.car !== null && other.car === drive.summary.car && other.id !== drive.summary.id,
  )
  useEffect(() => setRows(null), [index])
  if (others.length === 0) return null
  const look = async () => {
    const found = await Promise.all(
      others.slice(0, 8).map(async (other) => {
        const { review, summary } = await openDrive(other.id)
        return {
          title: `${summary.title}, ${summary.files[0]?.name ?? ''}`,
          cell: review.cells.find((c) => c.index === index),
        }
      }),
    )
    setRows(found)
  }
  if (rows === null)
    return (
      <button type="button" onClick={look}>
        This cell in other drives of the car ({others.length})
      </button>
    )
  return (
    <table>
      <caption>Cell {index} in other drives</caption>
      <thead>
        <tr>
          <th scope="col">Drive</th>
          <th scope="col" class="num">
            Joint, extra
          </th>
          <th scope="col" class="num">
            Resistance
          </th>
          <th scope="col" class="num">
            Rest offset
          </th>
        </tr>
      </thead>
      <tbody>
        {rows.map(({ title, cell }, at) => (
          <tr key={at}>
            <th scope="row">{title}</th>
            <td class="num">
              {cell ? withInterval(cell.joint_extra_mohm, cell.joint_extra_mohm_plus_minus, 'mΩ') : '–'}
            </td>
            <td class="num">
              {cell ? withInterval(cell.resistance_mohm, cell.resistance_mohm_plus_minus, 'mΩ') : '–'}
            </td>
            <td class="num">
              {cell ? withInterval(cell.rest_offset_mv, cell.rest_offset_mv_plus_minus, 'mV') : '–'}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  )
}

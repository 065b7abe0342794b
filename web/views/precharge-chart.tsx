import { useMemo } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import type { PrechargeRow } from '../../shared/review.ts'
import type { Span } from '../../shared/units.ts'
import { Drawing } from '../chart/drawing.tsx'
import { useWindow } from '../chart/use-window.ts'
import { XyChart } from '../chart/xy-chart.tsx'

const IDS = ['link_voltage', 'pack_voltage']

/**
 * The link's rise, sample by sample, with the law it was fitted by: towards its end value by 1 − e^(−t/τ). Drawn from
 * the review's figures, so that a bad fit shows.
 */
export function PrechargeChart({ drive, run }: { drive: DriveAnswer; run: PrechargeRow }) {
  const [from, to] = run.span_s
  const span = useMemo<Span>(
    () => [from - 0.1, Math.min(to, from + 12 * (run.tau_s ?? 0.5)) + 0.2],
    [from, to, run],
  )
  const ids = useMemo(() => IDS.filter((id) => drive.channels.some((channel) => channel.id === id)), [drive])
  const points = useWindow(drive.summary.id, ids, span, drive.summary.duration_s)
  const link = points.get('link_voltage')
  if (!link) return ids.includes('link_voltage') ? <Drawing height={280} /> : null
  const x: number[] = []
  const y: number[] = []
  for (let i = 0; i < link.timeS.length; i++)
    if (link.timeS[i]! >= span[0] && link.timeS[i]! <= span[1] && !Number.isNaN(link.values[i]!)) {
      x.push(link.timeS[i]! - from)
      y.push(link.values[i]!)
    }
  if (x.length < 2) return null
  const pack = points.get('pack_voltage')
  const packV = pack
    ? [...pack.values].filter((value) => !Number.isNaN(value)).sort((a, b) => a - b)[pack.values.length >> 1]
    : undefined
  const lines: { label: string; points: [number, number][] }[] = []
  if (packV !== undefined)
    lines.push({
      label: 'pack voltage',
      points: [
        [span[0] - from, packV],
        [span[1] - from, packV],
      ],
    })
  const model = packV === undefined ? null : modelCurve(run, x, y, packV, span[1] - from)
  if (model) lines.unshift({ label: 'fitted rise', points: model })
  return (
    <XyChart
      title="Link voltage from the start of precharge"
      xLabel="seconds"
      yLabel="V"
      dots={{ x, y, count: x.map(() => 40) }}
      lines={lines}
      height={280}
      says={`${x.length} samples.`}
    />
  )
}

function modelCurve(
  { tau_s, reached_percent, span_s }: PrechargeRow,
  x: readonly number[],
  y: readonly number[],
  packV: number,
  endS: number,
): [number, number][] | null {
  if (tau_s === null || reached_percent === null) return null
  const startV = y[0]!
  const endV = (reached_percent / 100) * packV
  const grown = 1 - Math.exp(-(span_s[1] - span_s[0]) / tau_s)
  const reachV = startV + (endV - startV) / grown
  // The rise begins between two samples: where the law passes through the first sample past a tenth of the way.
  const early = y.findIndex((v) => v > startV + 0.1 * (reachV - startV))
  if (early < 0) return null
  const zeroS = x[early]! + tau_s * Math.log(Math.max(1e-3, 1 - (y[early]! - startV) / (reachV - startV)))
  return Array.from({ length: 80 }, (_, i) => {
    const t = zeroS + ((endS - zeroS) * i) / 79
    return [t, startV + (reachV - startV) * (1 - Math.exp(-(t - zeroS) / tau_s))]
  })
}

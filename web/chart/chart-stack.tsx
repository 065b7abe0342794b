import type { ChannelInfo, DriveAnswer } from '../../shared/api.ts'
import type { PlotMark } from './plot-look.ts'
import { TimeChart } from './time-chart.tsx'

/** Height of the time axis, which the lowest chart alone carries. */
const AXIS_PX = 34

/** Charts above each other on one time axis. Lists without a channel are left out. */
export function ChartStack({
  drive,
  charts,
  height = 140,
  events,
  onRemove,
}: {
  drive: DriveAnswer
  charts: readonly (readonly ChannelInfo[])[]
  height?: number
  events?: readonly PlotMark[]
  onRemove?: (id: string) => void
}) {
  const shown = charts.filter((channels) => channels.length > 0)
  return (
    <div class="chart-stack">
      {shown.map((channels, at) => {
        const lowest = at === shown.length - 1
        return (
          <TimeChart
            key={channels.map(({ id }) => id).join()}
            driveId={drive.summary.id}
            endS={drive.summary.duration_s}
            channels={channels}
            height={lowest ? height + AXIS_PX : height}
            showTime={lowest}
            {...(events ? { events } : {})}
            onRemove={onRemove}
          />
        )
      })}
    </div>
  )
}

/** The channels of these ids that the drive has. */
export function channelsOf(drive: DriveAnswer, ids: readonly string[]): ChannelInfo[] {
  return ids.flatMap((id) => drive.channels.find((channel) => channel.id === id) ?? [])
}

import type { ChannelInfo } from '../../shared/api.ts'
import { DASHES, lineColour } from './colours.ts'

/** A line's sample, its name and unit; a button takes it off the chart where that is offered. */
export function LineKey({
  channel,
  says,
  at,
  dark,
  onRemove,
}: {
  channel: ChannelInfo
  /** The channel's whole name, where `channel.label` is shortened. */
  says: string
  at: number
  dark: boolean
  onRemove?: ((id: string) => void) | undefined
}) {
  return (
    <span class="line-key">
      <svg width="34" height="12" viewBox="0 0 34 12" aria-hidden="true">
        <line
          x1="1"
          x2="33"
          y1="6"
          y2="6"
          stroke={lineColour(at, dark)}
          stroke-width="3"
          stroke-dasharray={DASHES[at % DASHES.length]!.join(' ')}
        />
      </svg>
      <span>
        {channel.label}
        {channel.unit ? <span class="unit"> {channel.unit}</span> : null}
      </span>
      {onRemove ? (
        <button
          type="button"
          class="small-x"
          aria-label={`Take ${says} off the chart`}
          onClick={() => onRemove(channel.id)}
        >
          ×
        </button>
      ) : null}
    </span>
  )
}

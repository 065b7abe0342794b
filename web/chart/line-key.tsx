import type { ChannelInfo } from '../../shared/api.ts'
import { DASHES, lineColour } from './colours.ts'

/** A line's sample, its name and unit; a button takes it off the chart where that is offered. */
export function LineKey({
  channel,
  says,
  at,
  dark,
  sample = true,
  value = '',
  change = '',
  onRemove,
}: {
  channel: ChannelInfo
  /** The channel's whole name, where `channel.label` is shortened. */
  says: string
  at: number
  dark: boolean
  /** Is the line's own look shown? */
  sample?: boolean
  /** The value at the cursor, in words or digits. */
  value?: string
  /** What changed from mark A to mark B. */
  change?: string
  onRemove?: ((id: string) => void) | undefined
}) {
  return (
    <span class="line-key">
      {sample ? (
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
      ) : null}
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
      <span class="key-value tabular">{value}</span>
      {change === '' ? null : (
        <span class="tabular">
          A→B {change}
          {channel.unit ? ` ${channel.unit}` : ''}
        </span>
      )}
    </span>
  )
}

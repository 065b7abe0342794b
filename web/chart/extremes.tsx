import { useEffect, useState } from 'preact/hooks'
import type { ChannelInfo } from '../../shared/api.ts'
import type { Span } from '../../shared/units.ts'
import { numberText } from '../../shared/wording.ts'
import type { WindowPoints } from '../api.ts'

/** What a chart shows, in words, for those who cannot see it: each line's lowest and highest in the stretch shown. */
export function Extremes({
  channels,
  points,
  span,
}: {
  channels: readonly ChannelInfo[]
  points: ReadonlyMap<string, WindowPoints>
  span: Span
}) {
  const [words, setWords] = useState('')
  useEffect(() => {
    // Once the view stands still: words at each step of a zoom would only slow it.
    const timer = setTimeout(
      () => setWords(channels.map((each) => wordsOf(each, points.get(each.id), span)).join(' ')),
      300,
    )
    return () => clearTimeout(timer)
  }, [channels, points, span])
  return <p class="unseen">{words}</p>
}

function wordsOf({ label, unit }: ChannelInfo, line: WindowPoints | undefined, [from, to]: Span): string {
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  if (line)
    for (let i = 0; i < line.values.length; i++) {
      if (line.timeS[i]! < from || line.timeS[i]! > to) continue
      const value = line.values[i]!
      if (value < low) low = value
      if (value > high) high = value
    }
  return low <= high
    ? `${label}: ${numberText(low)} to ${numberText(high)} ${unit}.`
    : `${label}: no samples here.`
}

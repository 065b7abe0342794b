import type { DriveAnswer } from '../../shared/api.ts'
import type { Finding, Review } from '../../shared/review.ts'
import { figureText, limitText, numberText } from '../../shared/wording.ts'
import { steps } from '../chart/steps.ts'

interface Peer {
  readonly index: number
  readonly value: number
}

/**
 * The finding's figure with its interval, its limit, and its healthy peers as small dots:
 *
 *     ··:·:··            |            ├──◆──┤
 *     the others       limit          this one
 */
export function IntervalStrip({ drive, finding }: { drive: DriveAnswer; finding: Finding }) {
  const { value, limit, unit } = finding
  if (value === null) return null
  const low = finding.low ?? value
  const high = finding.high ?? value
  const peers = peersOf(finding, drive.review)
  if (limit === null && peers.length === 0 && low === high) return null
  const all = [low, high, value, ...(limit === null ? [] : [limit]), ...peers.map((peer) => peer.value)]
  const [from, to] = withAir(Math.min(...all, 0), Math.max(...all))
  const at = (x: number) => `${(((x - from) / (to - from)) * 100).toFixed(2)}%`
  const words = [
    `This one: ${figureText(finding)}.`,
    limit === null ? '' : `Limit: ${limitText(finding)}.`,
    peers.length > 0
      ? `${peers.length} peers from ${numberText(Math.min(...peers.map((p) => p.value)))} to ${numberText(Math.max(...peers.map((p) => p.value)))} ${unit}.`
      : '',
  ].join(' ')
  return (
    <figure class="strip">
      <div class="strip-line" aria-label={words} role="img">
        {peers.map((peer) => (
          <span
            key={peer.index}
            class="strip-peer"
            style={{ left: at(peer.value), top: `${28 + ((peer.index * 37) % 40)}%` }}
          />
        ))}
        <span class="strip-bar" style={{ left: at(low), width: `calc(${at(high)} - ${at(low)})` }} />
        <span class="strip-this" style={{ left: at(value) }} />
        {limit === null ? null : (
          <span
            class={(limit - from) / (to - from) > 0.7 ? 'strip-limit strip-limit-left' : 'strip-limit'}
            style={{ left: at(limit) }}
          >
            <span>limit {numberText(limit)}</span>
          </span>
        )}
      </div>
      <div class="strip-scale tabular" aria-hidden="true">
        {steps([from, to], 5).map((tick) => (
          <span key={tick} style={{ left: at(tick) }}>
            {numberText(tick)}
          </span>
        ))}
      </div>
      <figcaption class="soft">
        {peers.length > 0 ? `Rings: the other ${peers.length}. ` : ''}Bar: 95 % interval
        {unit === '' || unit === 'ratio' ? '.' : `, in ${unit}.`}
      </figcaption>
    </figure>
  )
}

function withAir(low: number, high: number): [number, number] {
  const air = (high - low || 1) * 0.08
  return [low === 0 ? 0 : low - air, high + air]
}

/** The figure of everything of the same sort but the accused. */
function peersOf({ kind, subject }: Finding, { cells, modules }: Review): Peer[] {
  const pick = (rows: readonly { index: number; value: number | null }[]) =>
    rows.flatMap(({ index, value }) => (value === null || index === subject.index ? [] : [{ index, value }]))
  switch (kind) {
    case 'joint-resistance-high':
      return pick(cells.map((cell) => ({ index: cell.index, value: cell.joint_extra_mohm })))
    case 'cell-imbalance':
      return pick(cells.map((cell) => ({ index: cell.index, value: cell.rest_offset_mv })))
    case 'cell-weak': {
      const known = cells.flatMap((cell) => (cell.resistance_mohm === null ? [] : [cell.resistance_mohm]))
      const middle = known.sort((a, b) => a - b)[known.length >> 1]
      if (!middle) return []
      return pick(
        cells.map((cell) => ({
          index: cell.index,
          value: cell.resistance_mohm === null ? null : cell.resistance_mohm / middle,
        })),
      )
    }
    case 'module-cooling-poor':
      return pick(modules.map((module) => ({ index: module.index, value: module.thermal_resistance_ratio })))
    default:
      return []
  }
}

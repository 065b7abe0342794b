import { useEffect, useState } from 'preact/hooks'
import type { Pairs, PeerBand } from '../../shared/api.ts'
import type { Span } from '../../shared/units.ts'
import { pairs, peers } from '../api.ts'
import { fail } from '../state.ts'

/** y against x over a stretch, counted in a grid; null until it is here, or where a channel is missing. */
export function usePairs(
  driveId: string,
  x: string | undefined,
  y: string | undefined,
  [from, to]: Span,
  minus = '',
): Pairs | null {
  const [found, setFound] = useState<Pairs | null>(null)
  useEffect(() => {
    setFound(null)
    if (!x || !y || !(to > from)) return
    let wanted = true
    pairs(driveId, x, y, [from, to], minus).then((got) => wanted && setFound(got), fail)
    return () => {
      wanted = false
    }
  }, [driveId, x, y, from, to, minus])
  return found
}

/** Where the peers of y lie against x over a stretch; null until it is here. */
export function usePeers(
  driveId: string,
  x: string | undefined,
  y: string | undefined,
  [from, to]: Span,
): PeerBand | null {
  const [found, setFound] = useState<PeerBand | null>(null)
  useEffect(() => {
    setFound(null)
    if (!x || !y || !(to > from)) return
    let wanted = true
    peers(driveId, x, y, [from, to]).then((got) => wanted && setFound(got), fail)
    return () => {
      wanted = false
    }
  }, [driveId, x, y, from, to])
  return found
}

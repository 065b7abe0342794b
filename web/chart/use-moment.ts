import { useEffect, useState } from 'preact/hooks'
import type { Moment } from '../../shared/api.ts'
import { momentOf } from '../api.ts'

/** Long enough that a cursor on the move asks for nothing, short enough to feel at once. */
const STILL_MS = 40

/** Channels' values at a moment, asked for once the moment has stood still. `ids` must keep its identity. */
export function useMoment(driveId: string, ids: readonly string[], atS: number | null): Moment | null {
  const [moment, setMoment] = useState<Moment | null>(null)
  useEffect(() => {
    if (atS === null || ids.length === 0) return
    let wanted = true
    const timer = setTimeout(() => {
      momentOf(driveId, ids, atS).then(
        (got) => wanted && setMoment(got),
        () => {},
      )
    }, STILL_MS)
    return () => {
      wanted = false
      clearTimeout(timer)
    }
  }, [driveId, ids, atS])
  return atS === null ? null : moment
}

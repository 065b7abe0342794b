import { useEffect, useState } from 'preact/hooks'
import type { Moment } from '../../shared/api.ts'
import { momentOf } from '../api.ts'

/** Every channel's value at a moment, asked for once the moment has stood still for a blink. */
export function useMoment(driveId: string, atS: number | null): Moment | null {
  const [moment, setMoment] = useState<Moment | null>(null)
  useEffect(() => {
    if (atS === null) return
    let wanted = true
    const timer = setTimeout(() => {
      momentOf(driveId, atS).then(
        (got) => wanted && setMoment(got),
        () => {},
      )
    }, 25)
    return () => {
      wanted = false
      clearTimeout(timer)
    }
  }, [driveId, atS])
  return atS === null ? null : moment
}

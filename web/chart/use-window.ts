import { useEffect, useRef, useState } from 'preact/hooks'
import type { Span } from '../../shared/units.ts'
import { type WindowPoints, windowOf } from '../api.ts'
import { fail } from '../state.ts'

/** Buckets a screen: a lowest and a highest value each, about a pixel and a half wide. */
const BUCKETS = 700

interface Held {
  readonly key: string
  readonly span: Span
  readonly points: ReadonlyMap<string, WindowPoints>
}

const EMPTY: ReadonlyMap<string, WindowPoints> = new Map()

/**
 * Points of channels for what is shown. Half a screen more is fetched on either side, so that moving is smooth; asks
 * again when the view leaves what is held or has become much finer than it.
 */
export function useWindow(
  driveId: string,
  ids: readonly string[],
  span: Span,
  endS: number,
): ReadonlyMap<string, WindowPoints> {
  const [held, setHeld] = useState<Held | null>(null)
  const asked = useRef<{ readonly key: string; readonly control: AbortController } | null>(null)
  const key = `${driveId} ${ids.join(' ')}`
  const known = held?.key === key ? held : null
  const [from, to] = span
  const length = to - from
  const enough =
    known !== null &&
    known.span[0] <= Math.max(0, from) &&
    known.span[1] >= Math.min(endS, to) &&
    known.span[1] - known.span[0] <= 4 * length
  useEffect(() => {
    if (enough || ids.length === 0) return
    // One question at a time: while the view moves, the next is asked when the last is answered.
    if (asked.current?.key === key) return
    asked.current?.control.abort()
    const control = new AbortController()
    asked.current = { key, control }
    const wide: Span = [Math.max(0, from - length / 2), Math.min(endS, to + length / 2)]
    const share = (wide[1] - wide[0]) / length
    windowOf(driveId, ids, wide, Math.round(BUCKETS * share), control.signal).then(
      (points) => {
        if (control.signal.aborted) return
        asked.current = null
        setHeld({ key, span: wide, points })
      },
      (error: unknown) => {
        if (control.signal.aborted) return
        asked.current = null
        fail(error)
      },
    )
  }, [key, enough, from, to, length, endS, driveId, ids, held])
  useEffect(() => () => asked.current?.control.abort(), [])
  return known?.points ?? EMPTY
}

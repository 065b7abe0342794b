import type { DriveAnswer } from '../shared/api.ts'
import type { Span } from '../shared/units.ts'
import { hrefOf, parseRoute } from './route.ts'
import { type State, showSpan, state } from './state.ts'

/** What the charts show, as an address carries it: a colleague who opens it sees the same. */
export type Shown = Pick<State, 'markA' | 'markB' | 'charts'> & { readonly span: Span | null }

/** Finer than a pixel of any view is no other view, s. */
const PLACES = 3

/** `?from=12.3&to=40&a=13&b=20&chart=…`, a chart's channels a line each; empty where the whole drive stands as it opens. */
export function shownText({ span, markA, markB, charts }: Shown, endS: number): string {
  const asked = new URLSearchParams()
  const put = (name: string, atS: number | null) => {
    if (atS !== null) asked.set(name, String(Number(atS.toFixed(PLACES))))
  }
  if (span && (span[0] > 0 || span[1] < endS)) {
    put('from', span[0])
    put('to', span[1])
  }
  put('a', markA)
  put('b', markB)
  for (const ids of charts) asked.append('chart', ids.join('\n'))
  const text = asked.toString()
  return text === '' ? '' : `?${text}`
}

/** What an address asks to be shown; what cannot be read asks for nothing. */
export function readShown(hash: string): Shown {
  const at = hash.indexOf('?')
  const asked = new URLSearchParams(at < 0 ? '' : hash.slice(at + 1))
  const moment = (name: string): number | null => {
    const text = asked.get(name) ?? ''
    return /^\d+(\.\d+)?$/.test(text) ? Number(text) : null
  }
  const [from, to] = [moment('from'), moment('to')]
  return {
    span: from !== null && to !== null && to > from ? [from, to] : null,
    markA: moment('a'),
    markB: moment('b'),
    charts: asked.getAll('chart').map((ids) => ids.split('\n')),
  }
}

/** Shows what the address asks for, as far as the drive has it. */
export function showAsked({ channels }: Pick<DriveAnswer, 'channels'>, hash = location.hash): void {
  const { span, charts, ...marks } = readShown(hash)
  const known = new Set(channels.map(({ id }) => id))
  const drawn = charts.map((ids) => ids.filter((id) => known.has(id))).filter((ids) => ids.length > 0)
  state.set({ ...marks, ...(drawn.length > 0 ? { charts: drawn } : {}) })
  if (span) showSpan(span)
}

/** The view moves many times a second; the address follows once it stands still, ms. */
const STILL_MS = 250

/** Keeps the address up to what is shown, without a step in the browser's history; back and forward show what was shown. */
export function keepShownInAddress(): void {
  let timer: ReturnType<typeof setTimeout> | undefined
  const write = () => {
    const route = parseRoute(location.hash)
    const { drive } = state.get()
    if (route.page !== 'drive' || drive?.summary.id !== route.id) return
    const wanted = `${hrefOf(route)}${shownText(state.get(), drive.summary.duration_s)}`
    if (wanted !== location.hash) history.replaceState(null, '', wanted)
  }
  const soon = () => {
    clearTimeout(timer)
    timer = setTimeout(write, STILL_MS)
  }
  state.listen(soon)
  addEventListener('hashchange', () => {
    const { drive } = state.get()
    const route = parseRoute(location.hash)
    if (location.hash.includes('?') && route.page === 'drive' && drive?.summary.id === route.id)
      showAsked(drive)
    soon()
  })
}

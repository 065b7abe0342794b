import { useEffect, useState } from 'preact/hooks'

/** Views of a drive, in the order of the tabs. */
export const VIEWS = [
  ['findings', 'Findings'],
  ['drive', 'Drive'],
  ['pack', 'Pack'],
  ['start', 'Start'],
  ['charge', 'Charge'],
  ['pedal', 'Pedal'],
  ['brake', 'Brake'],
  ['heat', 'Heat'],
  ['channels', 'Channels'],
  ['tables', 'Tables'],
  ['vehicle', 'Vehicle'],
  ['report', 'Report'],
] as const
export type View = (typeof VIEWS)[number][0]

/** Where the page is: kept in the address, so that a reload or a bookmark finds it again. */
export type Route =
  | { readonly page: 'home'; readonly door?: string }
  | { readonly page: 'car'; readonly car: string }
  | { readonly page: 'drive'; readonly id: string; readonly view: View; readonly item: string }

/** `#/car/NAME`, `#/drive/ID/VIEW/ITEM`, `#/door/NAME`, `#/`; behind a `?` stands what is shown (`shown.ts`). */
export function parseRoute(hash: string): Route {
  const [, page, id, view, item] = hash.replace(/^#/, '').replace(/\?.*$/s, '').split('/')
  if (page === 'door' && id) return { page: 'home', door: decoded(id) }
  if (page === 'car' && id) return { page: 'car', car: decoded(id) }
  if (page !== 'drive' || !id) return { page: 'home' }
  const known = VIEWS.find(([name]) => name === view)
  return { page: 'drive', id, view: known ? known[0] : 'findings', item: decoded(item ?? '') }
}

/** As it was before it went into the address; what cannot be decoded (a stray %) stays as it stands. */
function decoded(text: string): string {
  try {
    return decodeURIComponent(text)
  } catch {
    return text
  }
}

export function hrefOf(route: Route): string {
  if (route.page === 'home') return route.door ? `#/door/${route.door}` : '#/'
  if (route.page === 'car') return `#/car/${encodeURIComponent(route.car)}`
  const item = route.item ? `/${encodeURIComponent(route.item)}` : ''
  return `#/drive/${route.id}/${route.view}${item}`
}

export function go(route: Route): void {
  location.hash = hrefOf(route)
}

/** Changes what is chosen inside a view without a step in the browser's history. */
export function choose(item: string): void {
  const route = parseRoute(location.hash)
  if (route.page !== 'drive') return
  history.replaceState(null, '', hrefOf({ ...route, item }))
  dispatchEvent(new HashChangeEvent('hashchange'))
}

export function useRoute(): Route {
  const [route, setRoute] = useState(() => parseRoute(location.hash))
  useEffect(() => {
    const update = () => setRoute(parseRoute(location.hash))
    addEventListener('hashchange', update)
    return () => removeEventListener('hashchange', update)
  }, [])
  return route
}

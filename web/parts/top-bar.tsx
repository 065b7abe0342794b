import type { DriveAnswer } from '../../shared/api.ts'
import { distanceText, lengthText } from '../../shared/wording.ts'
import { hrefOf } from '../route.ts'
import { KeyList } from './key-list.tsx'
import { setTheme, useDark } from './use-dark.ts'

/** The page's head: where you are, and light or dark. */
export function TopBar({ drive }: { drive: DriveAnswer | null }) {
  const dark = useDark()
  return (
    <header class="top-bar">
      <a class="home-link" href={hrefOf({ page: 'home' })}>
        <svg width="30" height="30" viewBox="0 0 32 32" aria-hidden="true">
          <path
            d="M3 21h6l3-12 6 17 4-11 2 6h5"
            fill="none"
            stroke="currentColor"
            stroke-width="3.2"
            stroke-linejoin="round"
            stroke-linecap="round"
          />
        </svg>
        <span>Aftermile</span>
      </a>
      {drive ? <DriveFacts drive={drive} /> : <span class="top-spring" />}
      <KeyList />
      <button type="button" class="quiet" onClick={() => setTheme(dark ? 'light' : 'dark')}>
        {dark ? 'Light' : 'Dark'}
        <span class="unseen"> page</span>
      </button>
    </header>
  )
}

function DriveFacts({ drive: { summary } }: { drive: DriveAnswer }) {
  const facts = [
    // the title may hold the date already
    summary.started_at
      ?.slice(summary.title.includes(summary.started_at.slice(0, 10)) ? 11 : 0, 16)
      .replace('T', ' ') ?? null,
    lengthText(summary.duration_s),
    distanceText(summary.distance_km),
  ].filter((fact) => fact !== null)
  return (
    <p class="drive-facts">
      <strong>{summary.title}</strong> <span>{facts.join(' · ')}</span>
    </p>
  )
}

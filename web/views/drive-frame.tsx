import { useEffect, useRef } from 'preact/hooks'
import type { DriveAnswer } from '../../shared/api.ts'
import { NOTICE } from '../../shared/review.ts'
import { OverviewStrip } from '../parts/overview-strip.tsx'
import { choose, hrefOf, VIEWS, type View } from '../route.ts'

export interface ViewProps {
  readonly drive: DriveAnswer
  /** What is chosen inside the view, from the address. */
  readonly item: string
}

/** Views with charts over time: the strip of the whole drive stays in sight above them. */
const CHARTED: readonly View[] = ['findings', 'drive', 'pack', 'start', 'charge', 'pedal', 'brake', 'heat']

/** A drive's views behind a row of tabs. */
export function DriveFrame({
  drive,
  view,
  item,
  Shown,
}: ViewProps & { view: View; Shown: (props: ViewProps) => preact.JSX.Element }) {
  const { charges, charge_sessions = [] } = drive.review
  const charged = charges.length + charge_sessions.length > 0
  const tabs = useRef<HTMLElement>(null)
  // On a narrow window the tabs scroll: the chosen one comes into sight.
  useEffect(() => {
    tabs.current?.querySelector(`[href*="/${view}"]`)?.scrollIntoView({ block: 'nearest', inline: 'center' })
  }, [view])
  return (
    <>
      <nav ref={tabs} class="tabs" aria-label="Views of the drive">
        <ul>
          {VIEWS.filter(([name]) => name !== 'charge' || view === 'charge' || charged).map(
            ([name, label]) => (
              <li key={name}>
                <a
                  href={hrefOf({ page: 'drive', id: drive.summary.id, view: name, item: '' })}
                  aria-current={name === view ? 'page' : undefined}
                >
                  {label}
                </a>
              </li>
            ),
          )}
        </ul>
      </nav>
      {CHARTED.includes(view) ? (
        <OverviewStrip
          drive={drive}
          {...(view === 'findings' ? { onFinding: (at: number) => choose(String(at)) } : {})}
        />
      ) : null}
      <main id="content" class={`page page-${view}`} tabIndex={-1}>
        <Shown drive={drive} item={item} />
      </main>
      <footer class="notice">{NOTICE}</footer>
    </>
  )
}

import { useEffect } from 'preact/hooks'
import { load, refresh } from './actions.ts'
import { doorNamed } from './doors.ts'
import { ErrorBar } from './parts/error-bar.tsx'
import { TopBar } from './parts/top-bar.tsx'
import { restoreTheme } from './parts/use-dark.ts'
import { hrefOf, useRoute, type View } from './route.ts'
import { state } from './state.ts'
import { useStore } from './store.ts'
import { Brake } from './views/brake.tsx'
import { Car } from './views/car.tsx'
import { Channels } from './views/channels.tsx'
import { Charge } from './views/charge.tsx'
import { Drive } from './views/drive.tsx'
import { DriveFrame, type ViewProps } from './views/drive-frame.tsx'
import { Findings } from './views/findings.tsx'
import { Heat } from './views/heat.tsx'
import { Home } from './views/home.tsx'
import { Pack } from './views/pack.tsx'
import { Pedal } from './views/pedal.tsx'
import { Report } from './views/report.tsx'
import { Start } from './views/start.tsx'
import { Tables } from './views/tables.tsx'
import { VehicleForm } from './views/vehicle.tsx'

/** What each view shows: the one place where views are named as components. */
const SHOWN: Readonly<Record<View, (props: ViewProps) => preact.JSX.Element>> = {
  findings: Findings,
  drive: Drive,
  pack: Pack,
  start: Start,
  charge: Charge,
  pedal: Pedal,
  brake: Brake,
  heat: Heat,
  channels: Channels,
  tables: Tables,
  vehicle: VehicleForm,
  report: Report,
}

restoreTheme()

export function App() {
  const route = useRoute()
  const drive = useStore(state, (now) => now.drive)
  const error = useStore(state, (now) => now.error)
  const wanted = route.page === 'drive' ? route.id : null
  const place = route.page === 'drive' ? `${route.id}/${route.view}` : hrefOf(route)
  useEffect(() => {
    refresh()
  }, [])
  useEffect(() => {
    if (route.page === 'home') document.title = 'Aftermile'
    else if (wanted !== null) load(wanted)
  }, [wanted, route.page])
  // What went wrong in one place is not said in the next.
  useEffect(() => () => state.set({ error: null }), [place])
  const shown = wanted !== null && drive?.summary.id === wanted ? drive : null
  return (
    <>
      <button type="button" class="skip" onClick={skip}>
        Skip to the content
      </button>
      <TopBar drive={shown} />
      <ErrorBar />
      {route.page === 'home' ? (
        <Home door={doorNamed(route.door ?? null)} />
      ) : route.page === 'car' ? (
        <Car car={route.car} />
      ) : shown ? (
        <DriveFrame drive={shown} view={route.view} item={route.item} Shown={SHOWN[route.view]} />
      ) : (
        <main id="content" class="page" tabIndex={-1}>
          {error === null ? (
            <h1>Opening the drive …</h1>
          ) : (
            <>
              <h1>This drive cannot be opened</h1>
              <p>
                It may have been removed. <a href={hrefOf({ page: 'home' })}>All stored drives</a>
              </p>
            </>
          )}
        </main>
      )}
    </>
  )
}

function skip(): void {
  document.getElementById('content')?.focus()
}

import { render } from 'preact'
import { App } from './app.tsx'
import { keepShownInAddress } from './shown.ts'
import './style/type.css'
import './style/base.css'
import './style/frame.css'
import './style/panels.css'
import './style/charts.css'
import './style/strips.css'
import './style/charge.css'
import './style/home.css'
import './style/findings.css'
import './style/asked.css'
import './style/pack.css'
import './style/start.css'
import './style/channels.css'
import './style/car.css'
import './style/tables.css'
import './style/forms.css'

/** Charts draw their words on a canvas, which does not wait for a font by itself. */
async function start(): Promise<void> {
  await Promise.allSettled([
    document.fonts.load('15px "Aftermile Sans"'),
    document.fonts.load('15px "Aftermile Sans"', 'Ω'),
  ])
  keepShownInAddress()
  render(<App />, document.getElementById('app')!)
}

void start()

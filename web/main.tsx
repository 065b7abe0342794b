import { render } from 'preact'
import { App } from './app.tsx'
import './style/base.css'
import './style/parts.css'
import './style/views.css'

render(<App />, document.getElementById('app')!)

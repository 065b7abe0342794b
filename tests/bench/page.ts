import { mkdtempSync, rmSync, statfsSync } from 'node:fs'
import { cpus, loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import { chromium, type Page } from 'playwright-core'
import { CATALOGUE, catalogueEntry } from '../../shared/channels.ts'
import type { Channel, Drive } from '../../shared/drive.ts'
import { newId } from '../../src/library/ids.ts'
import { openPlace } from '../../src/library/place.ts'
import { ChannelReader } from '../../src/library/read-channels.ts'
import { storeDrive } from '../../src/library/store-drive.ts'
import { reviewDrive } from '../../src/review/review.ts'
import { serve } from '../../src/server/listen.ts'
import { browserPath } from '../helpers/browser.ts'
import { buildPage } from '../helpers/serving.ts'
import { smallDrive } from '../helpers/small-drive.ts'

/**
 * The page on a long drive: `npx tsx tests/bench/page.ts [hours] [channels]` (10 hours, 100 channels, 100 Hz unless
 * said). Prints how long storing took, how soon the first chart is drawn after opening, and the time of a frame while
 * panning and zooming, with the browser's frame limit off so that the figure is the work and not the screen's clock.
 * Goals: first chart within 1 s, median frame at most 16 ms.
 */
const [hours = 10, count = 100] = process.argv.slice(2).map(Number)
const RATE_HZ = 100

const seconds = (from: number) => ((performance.now() - from) / 1000).toFixed(1)
const say = (text: string) => process.stdout.write(`${text}\n`)

const samples = Math.round(hours * 3600 * RATE_HZ)
const dataDir = mkdtempSync(join(tmpdir(), 'aftermile-bench-'))
const need = samples * count * 5.5
if (statfsSync(dataDir).bavail * statfsSync(dataDir).bsize < need) {
  say(`Needs ${(need / 1e9).toFixed(1)} GB free in ${tmpdir()}.`)
  process.exit(2)
}
say(
  `${cpus().length} × ${cpus()[0]?.model}, Node ${process.version}, load ${loadavg()[0]!.toFixed(1)}; ${hours} h × ${count} channels × ${RATE_HZ} Hz = ${((samples * count) / 1e6).toFixed(0)} million samples`,
)
try {
  const id = store()
  buildPage()
  await measurePage(id)
} finally {
  rmSync(dataDir, { recursive: true, force: true })
}

/** Every channel on one time base, made one by one so that memory holds one of them. */
function store(): string {
  const timeS = Float64Array.from({ length: samples }, (_, i) => i / RATE_HZ)
  const ids = channelIds()
  function* channels(): Generator<Channel> {
    for (const [at, id] of ids.entries()) yield channel(id, at, timeS)
  }
  const small = smallDrive('long.csv')
  const drive = {
    ...small,
    durationS: samples / RATE_HZ,
    channels: { values: channels } as unknown as Drive['channels'],
  }
  const review = reviewDrive({ ...small, durationS: drive.durationS }, {})
  const started = performance.now()
  const place = openPlace(dataDir)
  const { id } = storeDrive(place, { drive, review, logs: [], vehicle: {}, id: newId() })
  say(`stored with its pyramid in ${seconds(started)} s`)
  const reader = new ChannelReader(join(dataDir, 'drives', id))
  const shown = ids.slice(0, 8)
  const begun = performance.now()
  for (const each of shown) reader.points(each, [0, drive.durationS], 1600)
  say(
    `whole drive of ${shown.length} channels from the pyramid: ${(performance.now() - begun).toFixed(1)} ms`,
  )
  reader.close()
  return id
}

function channelIds(): string[] {
  const first = ['speed', 'pack_current', 'pack_voltage', 'link_voltage', 'torque', 'torque_request']
  const rest = CATALOGUE.filter((entry) => entry.kind === 'number' && !entry.numbered).map(
    (entry) => entry.id,
  )
  const cells = Array.from({ length: count }, (_, i) => `cell_voltage.${i + 1}`)
  return [...new Set([...first, ...rest, ...cells])].slice(0, count)
}

/** Slow swings, faster ripple and noise, a lone spike an hour. */
function channel(id: string, at: number, timeS: Float64Array): Channel {
  const values = new Float64Array(samples)
  let seed = 12345 + at
  for (let i = 0; i < samples; i++) {
    seed = (Math.imul(seed, 1664525) + 1013904223) | 0
    const t = i / RATE_HZ
    values[i] =
      Math.round((50 + 30 * Math.sin(t / 40 + at) + 5 * Math.sin(t * 3) + seed / 2 ** 31) * 100) / 100
  }
  for (let i = 1234 + at; i < samples; i += 3600 * RATE_HZ) values[i] = 120
  return {
    ...{ id, unit: catalogueEntry(id)?.unit ?? '', timeS, values, fresh: null, labels: null },
    ...{ file: 'long.csv', from: id, step: 0.01, polarity: null },
  }
}

async function measurePage(id: string): Promise<void> {
  const serving = await serve({ dataDir, port: 0 })
  const browser = await chromium.launch({
    executablePath: browserPath(),
    args: [
      '--headless',
      '--no-sandbox',
      '--disable-gpu',
      '--disable-frame-rate-limit',
      '--disable-gpu-vsync',
    ],
  })
  try {
    const opened: number[] = []
    for (let i = 0; i < 5; i++) {
      const page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
      await page.goto(`${serving.url}#/drive/${id}/drive`)
      opened.push(await firstChart(page))
      await page.close()
    }
    say(`first chart drawn after opening: ${list(opened)} ms`)
    const page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
    // The compiler wraps named functions in a helper that the page does not have.
    await page.addInitScript('globalThis.__name = (fn) => fn')
    await page.goto(`${serving.url}#/drive/${id}/drive`)
    await firstChart(page)
    const charts = await page.locator('.chart-box').count()
    say(`${charts} charts of ${await page.locator('.line-key').count()} lines on the page`)
    for (const what of ['pan', 'zoom'] as const) {
      const frames = await frameTimes(page, what)
      const sorted = [...frames].sort((a, b) => a - b)
      const part = (share: number) => sorted[Math.floor(share * (sorted.length - 1))]!.toFixed(1)
      say(`${what}: median frame ${part(0.5)} ms, 95 % under ${part(0.95)} ms, ${frames.length} frames`)
    }
  } finally {
    await browser.close()
    await serving.close()
  }
}

function list(values: readonly number[]): string {
  return values.map((value) => value.toFixed(0)).join(', ')
}

/** Milliseconds from the start of navigation until a chart's canvas holds a drawn line. */
function firstChart(page: Page): Promise<number> {
  return page.evaluate(async () => {
    for (;;) {
      const canvas = document.querySelector<HTMLCanvasElement>('.chart-box canvas')
      const drawing = canvas?.getContext('2d')
      if (canvas && drawing && canvas.width > 0) {
        const { data } = drawing.getImageData(canvas.width * 0.3, 0, canvas.width * 0.4, canvas.height * 0.8)
        let blue = 0
        for (let i = 0; i < data.length; i += 4)
          if (data[i + 3]! > 200 && data[i + 2]! - data[i]! > 60) blue++
        if (blue > 300) return performance.now()
      }
      await new Promise((done) => setTimeout(done, 5))
    }
  })
}

/** A step of panning or zooming in each frame; milliseconds between frames. */
function frameTimes(page: Page, what: 'pan' | 'zoom'): Promise<number[]> {
  return page.evaluate(async (kind) => {
    const over = document.querySelector<HTMLElement>('.u-over')!
    const { left, top, width } = over.getBoundingClientRect()
    const at = (x: number, more: object = {}) => ({
      ...{ bubbles: true, cancelable: true, clientX: left + x, clientY: top + 20, pointerId: 1, button: 0 },
      ...more,
    })
    over.setPointerCapture = () => {}
    const wheel = (by: number) =>
      over.dispatchEvent(new WheelEvent('wheel', at(width / 2, { deltaY: by, ctrlKey: true })))
    const frame = () => new Promise<number>((done) => requestAnimationFrame(done))
    const press = [...document.querySelectorAll('button')].find((b) => b.textContent?.startsWith('Dragging'))!
    if (kind === 'pan') {
      for (let i = 0; i < 12; i++) wheel(-1)
      if (press.textContent === 'Dragging zooms') press.click()
      await new Promise((done) => setTimeout(done, 500))
      over.dispatchEvent(new PointerEvent('pointerdown', at(width / 2)))
    }
    const times: number[] = []
    let last = await frame()
    for (let i = 0; i < 240; i++) {
      if (kind === 'pan')
        over.dispatchEvent(new PointerEvent('pointermove', at(width / 2 + 300 * Math.sin(i / 20))))
      else wheel(Math.floor(i / 30) % 2 === 0 ? -1 : 1)
      const now = await frame()
      times.push(now - last)
      last = now
    }
    if (kind === 'pan') over.dispatchEvent(new PointerEvent('pointerup', at(width / 2)))
    return times.slice(10)
  }, what)
}

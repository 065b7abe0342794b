import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser } from 'playwright-core'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { importAndStore } from '../../src/library/import-and-store.ts'
import { VIEWS } from '../../web/route.ts'
import { startBrowser } from '../helpers/browser.ts'
import { buildPage, serveForTest, type TestServing } from '../helpers/serving.ts'

/** Logs that hold almost nothing: every view still says what it cannot show, and none breaks. */
const LOGS: Readonly<Record<string, string>> = {
  'one column of numbers': rows('Time [s],Thing', (t) => `${t},${(t * 3) % 7}`),
  'a column of words and a gap': rows('Time [s],Phase,Level', (t) =>
    t > 20 && t < 40 ? '' : `${t},${t < 30 ? 'warming' : 'steady'},${t}`,
  ),
  'two cells and nothing else': rows(
    'Time [s],Cell 1 voltage [V],Cell 2 voltage [V]',
    (t) => `${t},3.9,3.91`,
  ),
  'speed alone': rows('Time [s],Vehicle speed [km/h]', (t) => `${t},${Math.max(0, 40 - Math.abs(t - 40))}`),
}

function rows(head: string, row: (t: number) => string): string {
  return [head, ...Array.from({ length: 600 }, (_, i) => row(i / 10)).filter(Boolean)].join('\n')
}

let browser: Browser
let serving: TestServing
const folder = mkdtempSync(join(tmpdir(), 'aftermile-bare-'))
beforeAll(async () => {
  buildPage()
  ;[browser, serving] = await Promise.all([startBrowser(), serveForTest()])
})
afterAll(async () => {
  await browser?.close()
  await serving?.close()
  rmSync(folder, { recursive: true, force: true })
})

it.each(Object.keys(LOGS))(
  'draws every view of a log with %s',
  async (name) => {
    const path = join(folder, `${name}.csv`)
    writeFileSync(path, LOGS[name]!)
    const task = { dataDir: serving.dataDir, logs: [{ path, name: `${name}.csv` }], vehicle: {} }
    const id = await importAndStore(task, () => {})
    const page = await browser.newPage({ viewport: { width: 1200, height: 800 } })
    const complaints: string[] = []
    page.on('pageerror', (error) => complaints.push(error.message))
    page.on('console', (message) => message.type() === 'error' && complaints.push(message.text()))
    for (const [view] of VIEWS) {
      await page.goto(`${serving.url}#/drive/${id}/${view}`)
      await page.locator('h1').first().waitFor()
      await page.waitForTimeout(150)
      const said = await page.locator('[role=alert]').allInnerTexts()
      complaints.push(...said.filter((text) => text !== '').map((text) => `${view}: ${text}`))
      const text = (await page.locator('main').textContent())!
      if (/\bNaN\b|\bundefined\b|\bnull\b|Infinity/.test(text))
        complaints.push(`${view}: ${text.slice(0, 300)}`)
    }
    await page.goto(`${serving.url}#/drive/${id}/findings`)
    await page.getByRole('heading', { level: 1, name: 'Too little was assessed to conclude' }).waitFor()
    await page.goto(`${serving.url}#/`)
    await page
      .locator('.drive-row', { hasText: name })
      .first()
      .getByText('Too little assessed', { exact: true })
      .waitFor()
    await page.close()
    expect(complaints).toEqual([])
  },
  120_000,
)

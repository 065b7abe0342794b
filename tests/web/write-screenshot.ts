import { mkdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { importAndStore } from '../../src/library/import-and-store.ts'
import { startBrowser } from '../helpers/browser.ts'
import { buildPage, serveForTest } from '../helpers/serving.ts'

/** Draws the README's picture again: the findings of the sample drive Juniper. `npx tsx tests/web/write-screenshot.ts` */
const home = join(import.meta.dirname, '../..')
const folder = join(home, 'sample-logs', 'juniper')
buildPage()
const serving = await serveForTest()
const browser = await startBrowser()
try {
  const name = 'road-test.csv.gz'
  const vehicle = JSON.parse(readFileSync(join(folder, 'vehicle.json'), 'utf8'))
  const id = await importAndStore(
    { dataDir: serving.dataDir, logs: [{ name, path: join(folder, name) }], vehicle },
    () => {},
  )
  const page = await browser.newPage({ viewport: { width: 1360, height: 1000 } })
  await page.goto(`${serving.url}#/drive/${id}/findings/0`)
  await page.locator('h1').first().waitFor()
  await page.waitForTimeout(4000)
  mkdirSync(join(home, 'web/docs'), { recursive: true })
  await page.screenshot({ path: join(home, 'web/docs', 'findings.png') })
} finally {
  await browser.close()
  await serving.close()
}

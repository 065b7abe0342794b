import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { AxeBuilder } from '@axe-core/playwright'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { importAndStore } from '../../src/library/import-and-store.ts'
import { VIEWS } from '../../web/route.ts'
import { startBrowser } from '../helpers/browser.ts'
import { buildPage, serveForTest, type TestServing } from '../helpers/serving.ts'

/** WCAG 2.2 A and AA by axe-core on every view, light and dark, wide and at 390 px; and no view is wider than the window. */
const TAGS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']
/** Of those, what another ground can change: the dark one sets other colours and nothing else. */
const COLOURS = ['color-contrast', 'link-in-text-block']
/** And what a narrow window can change: sizes, and what scrolls. */
const SIZES = ['target-size', 'scrollable-region-focusable']
/** `AFTERMILE_AXE=all`: every rule on every view, ground and width (minutes). */
const ALL = process.env.AFTERMILE_AXE === 'all'
const rulesOf = (colorScheme: 'light' | 'dark', width: number): readonly string[] | null =>
  ALL || (colorScheme === 'light' && width > 390) ? null : colorScheme === 'dark' ? COLOURS : SIZES
const SAMPLES = join(import.meta.dirname, '../../sample-logs')

let browser: Browser
let serving: TestServing
const ids = new Map<string, string>()

beforeAll(async () => {
  buildPage()
  ;[browser, serving] = await Promise.all([startBrowser(), serveForTest()])
  for (const car of ['juniper', 'sorrel', 'teasel-overnight']) {
    const folder = join(SAMPLES, car)
    const logs = readdirSync(folder).filter((name) => name.endsWith('.gz'))
    const vehicle = JSON.parse(readFileSync(join(folder, 'vehicle.json'), 'utf8'))
    const task = {
      dataDir: serving.dataDir,
      vehicle,
      logs: logs.map((name) => ({ name, path: join(folder, name) })),
    }
    ids.set(car, await importAndStore(task, () => {}))
  }
})
afterAll(async () => {
  await browser?.close()
  await serving?.close()
})

const places = (): [name: string, hash: string][] => {
  const juniper = (view: string) =>
    `#/drive/${ids.get(view === 'charge' ? 'teasel-overnight' : 'juniper')}/${view}`
  return [
    ['home', '#/'],
    ...VIEWS.map(([view]): [string, string] => [view, juniper(view)]),
    ['an open finding', juniper('findings/0')],
    ['a picked cell', juniper('pack/29')],
    ['a car that will not start', `#/drive/${ids.get('sorrel')}/findings/0`],
    ['its start chain', `#/drive/${ids.get('sorrel')}/start`],
    ['its brake view, with nothing to show', `#/drive/${ids.get('sorrel')}/brake`],
  ]
}

/** All rules wide and light; narrow those of size, dark those of colour. */
describe.each([
  ['light', 1440],
  ['light', 390],
  ['dark', 1440],
  ['dark', 390],
] as const)('%s at %i px', (colorScheme, width) => {
  it('has no violation on any view', async () => {
    const context = await browser.newContext({
      viewport: { width, height: 900 },
      colorScheme,
      reducedMotion: 'reduce',
    })
    const page = await context.newPage()
    const found: string[] = []
    for (const [name, hash] of places()) {
      // the dark ground's colours are the same at both widths; what only a phone shows stands on these
      const phone = ['home', 'an open finding', 'its start chain'].includes(name)
      if (!ALL && colorScheme === 'dark' && width === 390 && !phone) continue
      await page.goto(serving.url + hash)
      await page.locator('h1').first().waitFor()
      await page.waitForTimeout(120)
      const axe = new AxeBuilder({ page }).setLegacyMode(true).exclude('iframe')
      // rows of one table are of one make
      if (!ALL) axe.exclude('tr:nth-child(n+8)').exclude('li:nth-child(n+25)')
      const rules = rulesOf(colorScheme, width)
      const chosen = rules === null ? axe.withTags([...TAGS]) : axe.withRules([...rules])
      const { violations } = await chosen.analyze()
      for (const { id, nodes } of violations)
        found.push(
          `${name}: ${id}: ${nodes
            .map((node) => node.target.join(' '))
            .slice(0, 3)
            .join(' | ')}`,
        )
      const over = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
      if (over > 0) found.push(`${name}: ${over} px wider than the window`)
      for (const words of await clippedWords(page)) found.push(`${name}: clips “${words}”`)
    }
    await context.close()
    expect(found).toEqual([])
  }, 240_000)
})

/** Words that their own box or the stretch they name cuts off. */
function clippedWords(page: Page): Promise<string[]> {
  return page.evaluate(() =>
    [...document.querySelectorAll<HTMLElement>('button, a, h1, h2, h3, dd, dt, .segment span')]
      .filter((element) => {
        const own = element.getBoundingClientRect()
        if (own.width < 2 || !element.textContent) return false
        const frame = element.closest('.segment')?.getBoundingClientRect()
        const out = frame !== undefined && (own.left < frame.left - 1 || own.right > frame.right + 1)
        return out || (element.scrollWidth > element.clientWidth + 1 && element.clientWidth > 0)
      })
      .map((element) => element.textContent!.slice(0, 60)),
  )
}

it('the printed sheet has no violation', async () => {
  const context = await browser.newContext()
  const page = await context.newPage()
  await page.goto(`${serving.url}api/drives/${ids.get('juniper')}/report`)
  const { violations } = await new AxeBuilder({ page }).withTags(TAGS).analyze()
  await context.close()
  expect(violations.map(({ id, nodes }) => `${id}: ${nodes[0]?.target.join(' ')}`)).toEqual([])
})

it('every view is reached and used by keys, and the focus is seen', async () => {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } })
  const page = await context.newPage()
  await page.goto(`${serving.url}#/drive/${ids.get('juniper')}/findings`)
  await page.locator('h1').first().waitFor()
  await page.keyboard.press('Tab')
  expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Skip to the content')
  await page.keyboard.press('Enter')
  expect(await page.evaluate(() => document.activeElement?.id)).toBe('content')
  const seen = new Set<string>()
  for (let i = 0; i < 12; i++) {
    await page.keyboard.press('Tab')
    const [text, outline] = await page.evaluate(() => {
      const active = document.activeElement!
      return [active.textContent ?? '', getComputedStyle(active).outlineWidth] as const
    })
    if (text) seen.add(text)
    expect(Number.parseFloat(outline)).toBeGreaterThanOrEqual(3)
  }
  expect([...seen].some((text) => text.includes('joint between cells'))).toBe(true)
  await context.close()
})

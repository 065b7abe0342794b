import { execFileSync } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { homedir } from 'node:os'
import { join } from 'node:path'
import { type Browser, chromium } from 'playwright-core'

const QUIET = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
]

const NAMES = [
  'chromium',
  'chromium-browser',
  'google-chrome',
  'google-chrome-stable',
  'microsoft-edge',
  'brave-browser',
  'vivaldi',
]

const ELSEWHERE = [
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
  '/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge',
  'C:/Program Files/Google/Chrome/Application/chrome.exe',
  'C:/Program Files (x86)/Google/Chrome/Application/chrome.exe',
  'C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe',
  join(homedir(), 'AppData/Local/Chromium/Application/chrome.exe'),
]

/** Starts an installed Chromium-family browser. On Debian as root one is installed where there is none. */
export async function startBrowser(): Promise<Browser> {
  return chromium.launch({ executablePath: browserPath(), args: QUIET })
}

/** @throws Error one sentence saying how to get a browser: tests without one fail, they are never skipped. */
export function browserPath(): string {
  const found = installedBrowser() ?? (canInstall() ? installBrowser() : undefined)
  if (found) return found
  throw new Error(
    'The browser tests need Chromium, Chrome or Edge and found none: install one ("apt-get install chromium fonts-dejavu-core" as root on Debian), or name its program in the variable CHROMIUM.',
  )
}

function installedBrowser(): string | undefined {
  const named = process.env.CHROMIUM
  if (named) return existsSync(named) ? named : undefined
  const folders = (process.env.PATH ?? '').split(process.platform === 'win32' ? ';' : ':')
  const onPath = NAMES.flatMap((name) => folders.map((folder) => join(folder, name)))
  return [...onPath, ...ELSEWHERE].find((path) => existsSync(path))
}

function canInstall(): boolean {
  if (process.platform !== 'linux' || process.getuid?.() !== 0 || process.env.CHROMIUM) return false
  try {
    return /^ID(_LIKE)?=.*debian/m.test(readFileSync('/etc/os-release', 'utf8'))
  } catch {
    return false
  }
}

/** Debian's own browser and a font. undefined where apt-get could not. */
function installBrowser(): string | undefined {
  const apt = (...args: string[]) =>
    execFileSync('apt-get', args, {
      stdio: ['ignore', 'ignore', 'inherit'],
      env: { ...process.env, DEBIAN_FRONTEND: 'noninteractive' },
    })
  process.stderr.write(
    'No browser found: installing Chromium and a font with apt-get for the browser tests.\n',
  )
  try {
    apt('update', '-qq')
    apt('install', '-y', '-qq', '--no-install-recommends', 'chromium', 'fonts-dejavu-core')
  } catch {
    return undefined
  }
  return installedBrowser()
}

import { sessionSentences } from '../../shared/charge-wording.ts'
import type { Drive } from '../../shared/drive.ts'
import { kindWords } from '../../shared/kinds.ts'
import { type Finding, NOTICE, type Review, type Severity } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { VERSION } from '../../shared/version.ts'
import {
  chargeStepWord,
  clockText,
  figureText,
  knownWords,
  lengthText,
  limitText,
  needsDrive,
  numberText,
  onceInFull,
  SEVERITY_WORDS,
  STATE_HEADINGS,
  sentence,
  shownText,
  startedText,
  stepInSentence,
  stepsText,
  subjectText,
  whenText,
  withInterval,
} from '../../shared/wording.ts'
import { evidenceCharts, packBars } from './evidence-charts.ts'
import { frontPage } from './html-front.ts'
import { REPORT_STYLE } from './html-style.ts'
import type { StateWords } from './state-lanes.ts'
import { escapeText as t } from './svg-chart.ts'

/** What the review does not hold. */
export interface ReportExtras {
  readonly title?: string
  readonly notes?: string
  readonly version?: string
  /** Registration, VIN, customer, kilometres, where given. */
  readonly record?: Vehicle['record']
  /** Words of the units' states and faults. */
  readonly words?: StateWords
}

/**
 * The hand-over sheet: one HTML file that needs nothing else, made for A4 and for grey printers. One page that stands
 * alone; then an annex: the findings with their evidence, what was asked, figures, files with their hashes.
 */
export function toHtml(review: Review, drive: Drive, extras: ReportExtras = {}): string {
  const title = extras.title ?? review.drive.files.map(({ name }) => name).join(', ')
  const { started_at, duration_s, distance_km } = review.drive
  const facts = [
    t(startedText(started_at) ?? 'date not in the log'),
    `${lengthText(duration_s)} logged`,
    distance_km === null ? 'distance not known' : `${numberText(distance_km)} km`,
  ]
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>Drive review: ${t(title)}</title><style>${REPORT_STYLE}${pageFoot(title)}</style></head><body>
<header><h1>${t(title)}</h1><p>${facts.join(' · ')}</p></header>
<main>
${frontPage(review, drive, extras)}<h1 class="annex">Annex: evidence, questions, figures</h1>
${(['stop', 'attention', 'note'] as const).map((severity) => findings(severity, review, drive, extras.words)).join('')}
${review.findings.length === 0 ? '<section><h2>What was found</h2><p>No finding among the questions that were assessed.</p></section>' : ''}
${checkSheet(review)}${starts(review)}${charges(review)}${notAssessed(review)}${nothingFound(review)}${figures(review)}${packBars(review)}
${notes(extras.notes ?? '')}${assumptions(review)}${files(review)}
</main>
<footer><p>${t(NOTICE)} Made by Aftermile ${t(extras.version ?? VERSION)} from the files above.</p></footer>
</body></html>
`
}

/** Title and page at the foot of every printed sheet. */
function pageFoot(title: string): string {
  const text = title.replace(/[^\p{L}\p{N} .,&+()_-]/gu, ' ')
  return `@page { @bottom-left { content: "${text}"; font: 8.5pt sans-serif } @bottom-right { content: "Page " counter(page) " of " counter(pages); font: 8.5pt sans-serif } }`
}

function findings(severity: Severity, review: Review, drive: Drive, words?: StateWords): string {
  const found = review.findings.filter((finding) => finding.severity === severity)
  if (found.length === 0) return ''
  const { heading } = SEVERITY_WORDS[severity]
  return `<section><h2>${heading} (${found.length})</h2>${found.map((each) => finding(each, drive, words)).join('')}</section>`
}

function finding(each: Finding, drive: Drive, words?: StateWords): string {
  const limit = limitText(each)
  const rows: [string, string][] = [
    ['Figure', each.value === null ? 'none' : figureText(each)],
    ['Limit', limit === null ? 'none' : `${limit}${each.limit_source ? ` (${each.limit_source})` : ''}`],
    ['When', whenText(each.span_s, drive.durationS)],
    ['Why', each.reason],
    ['Next step', each.next_step],
  ]
  const list = (heading: string, items: readonly string[]) =>
    items.length === 0
      ? ''
      : `<p class="label">${heading}</p><ul>${items.map((item) => `<li>${t(item)}</li>`).join('')}</ul>`
  const rivals = each.rivals.map(
    (rival) =>
      `${sentence(`${kindWords(rival.kind)}, ${subjectText(rival.subject)}`)} For it: ${sentence(rival.for)} Against it: ${sentence(rival.against)} Decided by: ${sentence(rival.decided_by)}`,
  )
  return `<article class="${each.severity}"><div class="told"><h3><span class="mark">${SEVERITY_WORDS[each.severity].word}</span> ${t(each.headline)}</h3>
<dl>${rows
    .filter(([, value]) => value !== '')
    .map(([name, value]) => `<dt>${name}</dt><dd>${t(value)}</dd>`)
    .join('')}</dl></div>
${list('Take care', each.cautions)}${list('What else it could be', rivals)}
${evidenceCharts(each, drive, words).join('')}</article>`
}

function nothingFound(review: Review): string {
  const asked = review.questions.filter(({ state }) => state === 'nothing-found')
  if (asked.length === 0) return ''
  const rows = asked.map(
    (question) =>
      `<tr><td>${t(question.question)}</td><td>${t(sentence(shownText(question) ?? question.why))}</td></tr>`,
  )
  return `<section><h2>${STATE_HEADINGS['nothing-found']} (${asked.length})</h2><table class="asked"><thead><tr><th>Question</th><th>Read, limit, and the smallest fault that would have shown (9 times in 10)</th></tr></thead><tbody>${rows.join('')}</tbody></table></section>`
}

function notAssessed(review: Review): string {
  const asked = review.questions.filter(({ state }) => state === 'not-assessed')
  if (asked.length === 0) return ''
  // A parked car answers dozens of questions alike: they need a drive, and are named in one line.
  const parked = review.verdict.state === 'cannot-drive' ? asked.filter(needsDrive) : []
  const rows = asked
    .filter((each) => !parked.includes(each))
    .map(
      (question) =>
        `<tr><td>${t(question.question)}</td><td>${t(sentence(question.why))}</td><td>${t(sentence(question.to_assess ?? ''))}</td></tr>`,
    )
  const need =
    parked.length === 0
      ? ''
      : `<p>${parked.length} questions need a drive: ${parked.map(({ question }) => t(question)).join(' ')}</p>`
  return `<section><h2>${STATE_HEADINGS['not-assessed']} (${asked.length})</h2><table class="open"><thead><tr><th>Question</th><th>Why not</th><th>To assess it</th></tr></thead><tbody>${rows.join('')}</tbody></table>${need}</section>`
}

function figures({ energy, drive: { peak } }: Review): string {
  const rows: [string, string][] = []
  const add = (name: string, value: number | null, plusMinus: number | null, unit: string) => {
    if (value !== null) rows.push([name, withInterval(value, plusMinus, unit)])
  }
  add('Energy out of the pack', energy.out_wh, energy.out_wh_plus_minus, 'Wh')
  add('Energy back in', energy.in_wh, energy.in_wh_plus_minus, 'Wh')
  add('Net', energy.net_wh, energy.net_wh_plus_minus, 'Wh')
  add('Per distance', energy.wh_per_km, energy.wh_per_km_plus_minus, 'Wh/km')
  add('Highest current', peak.current_a, null, 'A')
  add('Highest charging current', peak.charge_current_a, null, 'A')
  add('Highest power', peak.power_w === null ? null : peak.power_w / 1000, null, 'kW')
  add('Highest speed', peak.speed_kmh, null, 'km/h')
  add('Lowest cell', peak.lowest_cell_v, null, 'V')
  add('Highest cell', peak.highest_cell_v, null, 'V')
  add('Hottest sensor', peak.hottest_c, null, '°C')
  add('Pack voltage lost at the highest current', peak.sag_v, null, 'V')
  if (rows.length === 0) return ''
  return `<section><h2>Figures of the drive</h2><dl class="figures">${rows.map(([name, value]) => `<div><dt>${name}</dt><dd>${t(value)}</dd></div>`).join('')}</dl></section>`
}

function starts({ starts: all }: Review): string {
  if (all.length === 0) return ''
  const rows = all.map((start) => {
    return `<tr><td>${clockText(start.span_s[0], true)}</td><td>${start.reached}</td><td>${t(start.first_failed === null ? 'none' : stepInSentence(start.first_failed))}</td><td>${t(stepsText(start.steps))}</td></tr>`
  })
  return `<section><h2>Starts</h2><table class="starts"><thead><tr><th>At</th><th>Reached</th><th>First that failed</th><th>Steps</th></tr></thead><tbody>${rows.join('')}</tbody></table></section>`
}

/** Each time the plug was in, and each charge with current. */
function charges({ charges: all, charge_sessions = [] }: Review): string {
  if (all.length === 0 && charge_sessions.length === 0) return ''
  const rows = all.map(({ span_s, reached, first_failed, steps }) => {
    const failed = first_failed === null ? 'none' : chargeStepWord(first_failed)
    return `<tr><td>${clockText(span_s[0], true)}</td><td>${reached}</td><td>${t(failed)}</td><td>${t(stepsText(steps, chargeStepWord))}</td></tr>`
  })
  const table =
    rows.length === 0
      ? ''
      : `<table class="starts"><thead><tr><th>Plugged in</th><th>Reached</th><th>First that failed</th><th>Steps</th></tr></thead><tbody>${rows.join('')}</tbody></table>`
  return `<section><h2>Charges</h2>${table}${charge_sessions.map((each) => `<p>${t(sessionSentences(each).join(' '))}</p>`).join('')}</section>`
}

function checkSheet({ check_sheet }: Review): string {
  if (check_sheet.length === 0) return ''
  const said = new Set<string>()
  const rows = check_sheet.map(
    (check) =>
      `<tr class="${check.known ? 'known' : ''}"><td><span class="box">${check.known ? '×' : ''}</span></td><td><b>${t(sentence(check.what))}</b>${check.cautions.map((each) => `<br>Take care: ${t(onceInFull(each, said))}`).join('')}</td><td>${t(check.instrument)}</td><td>${t(check.expect)}</td><td>${t(sentence(check.known ? knownWords(check.known) : check.tells))}</td></tr>`,
  )
  return `<section><h2>Check sheet</h2><table class="checks"><thead><tr><th></th><th>Look at</th><th>With</th><th>Expect</th><th>What it tells</th></tr></thead><tbody>${rows.join('')}</tbody></table></section>`
}

function notes(text: string): string {
  const lines = text.trim() === '' ? '<div class="write"></div>' : `<p class="notes">${t(text.trim())}</p>`
  return `<section class="keep"><h2>Notes</h2>${lines}</section>`
}

function assumptions(review: Review): string {
  if (review.assumptions.length === 0) return ''
  const items = review.assumptions.map(({ what, value, unit, source }) => {
    const shown = typeof value === 'number' ? numberText(value, 4) : value
    const figure = shown === null ? '' : `: ${shown}${unit ? ` ${unit}` : ''}`
    return `<li>${t(sentence(what).replace(/\.$/, '') + figure)} <em>(${t(source)})</em></li>`
  })
  return `<section><h2>Assumed or learned</h2><ul>${items.join('')}</ul></section>`
}

function files(review: Review): string {
  const rows = review.drive.files.map((file) => {
    const skipped = file.skipped.map(({ what, count, first }) => `${count} × ${what} (first: ${first})`)
    return `<tr><td>${t(file.name)}<br><code>${t(file.sha256)}</code></td><td>${t(file.layout)}, ${file.rows} rows</td><td>${t(skipped.join('; ') || 'nothing')}</td></tr>`
  })
  return `<section><h2>Files</h2><table><thead><tr><th>Name and SHA-256</th><th>Layout</th><th>Left out</th></tr></thead><tbody>${rows.join('')}</tbody></table></section>`
}

import type { Drive } from '../../shared/drive.ts'
import { keepsLine } from '../../shared/kinds.ts'
import { type Finding, NOTICE, type Review } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import {
  cautionName,
  figureText,
  firstSentence,
  limitText,
  lowerFirst,
  openLine,
  partlyRead,
  SEVERITY_WORDS,
  sentence,
} from '../../shared/wording.ts'
import { DC_LINK } from '../facts/cautions.ts'
import { evidenceCharts } from './evidence-charts.ts'
import type { StateWords } from './state-lanes.ts'
import { escapeText as t } from './svg-chart.ts'

/** Findings that the first page has room for; the rest stands in the annex, and the page says how many. */
const MOST_FINDINGS = 6
/** With so few findings the worst one's evidence is drawn on the page. */
const MOST_WITH_PICTURE = 3
/** Checks that a work card has room for. */
const MOST_CHECKS = 8
/** Full cautions at the foot of the page. */
const MOST_CAUTIONS = 6

/**
 * The one page that stands alone: the verdict with what must be known before touching the car; what was found with the
 * step that follows; what could not be told; cautions; who read it. For a car that cannot drive it is a work card.
 */
export function frontPage(
  review: Review,
  drive: Drive,
  { record, words }: { readonly record?: Vehicle['record']; readonly words?: StateWords } = {},
): string {
  const card = review.verdict.state === 'cannot-drive' && review.check_sheet.length > 0
  const body = card ? workCard(review) : foundTable(review, drive, words)
  return `<section class="front">${carLine(record)}
<p class="verdict">${t(review.verdict.sentence)}</p>${beforeTouching(review)}${partlyRead(review.drive)
    .map((each) => `<p class="open">${t(each)}</p>`)
    .join('')}
${body}
<p class="open">${asked(review)} ${t(openLine(review))}</p>${card ? '' : untold(review)}${cautions(review)}
<p class="sign">Read by: <span></span> Date: <span></span></p><p class="sign">Repaired: <span></span> Tested again: <span></span></p>
<p class="notice">${t(NOTICE)}</p></section>`
}

/** Questions that the page has room for where little was found; the annex has all, with what to log or drive. */
const MOST_UNTOLD = 14

/** What could not be told, by name: a page that says nothing was found says beside it what was not looked at. */
function untold(review: Review): string {
  const loud = review.findings.filter(({ severity }) => severity !== 'note').length
  const open = review.questions.filter(({ state }) => state === 'not-assessed')
  const room = MOST_UNTOLD - 5 * loud
  if (open.length === 0 || room <= 0) return ''
  const items = open.slice(0, room).map(({ question }) => `<li>${t(question)}</li>`)
  const more = open.length - items.length
  if (more > 0) items.push(`<li>and ${more} more, in the annex</li>`)
  return `<p class="label">What this log does not tell</p><ul class="untold">${items.join('')}</ul>`
}

function asked({ questions }: Review): string {
  const of = (state: string) => questions.filter((question) => question.state === state).length
  return `${questions.length} questions asked: ${of('found')} with a finding, ${of('nothing-found')} without one.`
}

function carLine(record: Vehicle['record']): string {
  const parts = [
    ['Registration', record?.registration],
    ['VIN', record?.vin],
    ['Customer', record?.customer],
    ['Kilometres', record?.odometer_km?.toString()],
  ] as const
  const given = parts.filter(([, value]) => value !== undefined)
  if (given.length === 0) return ''
  return `<p class="car">${given.map(([name, value]) => `${name}: <b>${t(value!)}</b>`).join(' · ')}</p>`
}

function beforeTouching({ verdict }: Review): string {
  if (verdict.before_touching.length === 0) return ''
  const items = verdict.before_touching.map((each) => `<li>${t(each)}</li>`).join('')
  return `<div class="before"><b>Before touching the car</b><ul>${items}</ul></div>`
}

/** What was found, worst first, and beside each what to do: in this order. */
function foundTable(review: Review, drive: Drive, words?: StateWords): string {
  const loud = review.findings.filter(({ severity }) => severity !== 'note')
  const own = loud.filter((each) => each.explained_by === null || keepsLine(each.kind))
  if (own.length === 0) return '<p>No finding above a note among the questions that were assessed.</p>'
  const rows = own.slice(0, MOST_FINDINGS).map((each) => {
    const beneath = loud.filter((other) => other.explained_by === each.id && !keepsLine(other.kind))
    const explains = beneath.map((other) => `<br>Explains: ${t(other.headline)}`).join('')
    return `<tr class="${each.severity}"><td><span class="mark">${SEVERITY_WORDS[each.severity].word}</span></td><td><b>${t(sentence(each.headline))}</b><br>${t(beyondHeadline(each))}${explains}</td><td><span class="box"></span> ${t(sentence(firstSentence(each.next_step)))}${careLine(each)}</td></tr>`
  })
  const more = own.length - rows.length
  const [picture = ''] = own.length <= MOST_WITH_PICTURE ? evidenceCharts(own[0]!, drive, words, 1) : []
  return `<table class="found"><thead><tr><th>Weight</th><th>Found</th><th>To do, in this order</th></tr></thead><tbody>${rows.join('')}</tbody></table>${more > 0 ? `<p>${more} more ${more === 1 ? 'finding stands' : 'findings stand'} in the annex.</p>` : ''}${picture}`
}

/** The figure and its limit, but for what the headline says already. */
function beyondHeadline(finding: Finding): string {
  const limit = limitText(finding)
  return figureInHeadline(finding) ? (limit === null ? '' : `limit ${limit}`) : figureLine(finding)
}

/** "0.50 ± 0.05 mΩ" says 0.499 mΩ: a number with the finding's unit that is its value, rounded. */
function figureInHeadline({ headline, value, unit }: Finding): boolean {
  if (value === null) return true
  const figures = headline.matchAll(/([−-]?\d+(?:\.(\d+))?)(?: ± [\d.]+)? (\S+)/g)
  return [...figures].some(
    ([, number, decimals = '', after]) =>
      after!.replace(/[.,;:]$/, '') === unit &&
      Math.abs(Number(number!.replace('−', '-')) - value) <= 0.5 * 10 ** -decimals.length,
  )
}

function figureLine(finding: Finding): string {
  const limit = limitText(finding)
  const figure = finding.value === null ? 'no figure' : figureText(finding)
  return limit === null ? figure : `${figure}; limit ${limit}`
}

function careLine(finding: Finding): string {
  const names = [...new Set(finding.cautions.map(cautionName))]
  if (names.length === 0) return ''
  return `<br><i>Take care: ${t(names.map((each, at) => (at > 0 ? lowerFirst(each) : each)).join('; '))}.</i>`
}

/** Cautions that mark work on parts that may be live. */
const HIGH_VOLTAGE = /prove dead|stay live|DC link/i

/**
 * The check sheet as a work card: first the link, always; then the open checks in their order, with room for each
 * reading; from the first that touches high voltage on, only below 60 V.
 */
function workCard(review: Review): string {
  const open = review.check_sheet.filter((check) => check.known === null)
  const rows = [
    row(
      'Wait the maker’s time. Then measure the link at the inverter’s DC terminals, plus against minus.',
      'voltmeter for this voltage, tried before and after on a known source',
      'below 60 V and falling',
      DC_LINK,
    ),
  ]
  let below = false
  for (const check of open.slice(0, MOST_CHECKS)) {
    if (!below && check.cautions.some((each) => HIGH_VOLTAGE.test(each))) {
      below = true
      rows.push('<tr class="gate"><td colspan="5">Only below 60 V at the link:</td></tr>')
    }
    const care = check.cautions.map(cautionName)
    rows.push(
      row(
        sentence(check.what),
        check.instrument,
        check.expect,
        care.length > 0
          ? `Take care: ${care.map((each, at) => (at > 0 ? lowerFirst(each) : each)).join('; ')}.`
          : '',
      ),
    )
  }
  const found = review.findings.filter(({ severity, kind }) => severity !== 'note' && kind !== 'no-drive')
  const also = found
    .slice(0, MOST_FINDINGS)
    .map(
      (each) =>
        `<li>${SEVERITY_WORDS[each.severity].word}: ${t(sentence(each.headline))}${beyondHeadline(each) === '' ? '' : ` ${t(sentence(beyondHeadline(each)))}`}</li>`,
    )
    .join('')
  return `<table class="card"><thead><tr><th></th><th>Look at</th><th>With</th><th>Expect</th><th>Reading</th></tr></thead><tbody>${rows.join('')}</tbody></table>${also ? `<p class="label">What the log shows besides</p><ul>${also}</ul>` : ''}`
}

const row = (what: string, instrument: string, expect: string, care: string): string =>
  `<tr><td><span class="box"></span></td><td><b>${t(what)}</b>${care ? `<br><i>${t(care)}</i>` : ''}</td><td>${t(instrument)}</td><td>${t(expect)}</td><td class="reading"></td></tr>`

/** Each caution of what is told here in full, once. */
function cautions(review: Review): string {
  const card = review.verdict.state === 'cannot-drive' && review.check_sheet.length > 0
  const loud = review.findings.filter(({ severity }) => severity !== 'note').slice(0, MOST_FINDINGS)
  const from = card ? review.check_sheet.filter(({ known }) => known === null) : loud
  const all = [...new Set(from.flatMap((each) => each.cautions))].filter(
    (each) => !review.verdict.before_touching.some((said) => said.includes(each)),
  )
  if (all.length === 0) return ''
  return `<ul class="care">${all
    .slice(0, MOST_CAUTIONS)
    .map((each) => `<li>${t(each)}</li>`)
    .join('')}</ul>`
}

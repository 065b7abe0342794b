import {
  type Customer,
  type Handover,
  PAPER_WORDS,
  type PaperName,
  type Wishes,
} from '../../../shared/car-answer.ts'
import { DEED_WORDS } from '../../../shared/car-record.ts'
import { VERSION } from '../../../shared/version.ts'
import { cautionName, numberText, readingText, SEVERITY_WORDS, sentence } from '../../../shared/wording.ts'
import { REPORT_STYLE } from '../../report/html-style.ts'
import { escapeText as t } from '../../report/svg-chart.ts'
import { day, deedText } from '../car-text.ts'

type Paper = Handover | Customer | Wishes

/** A paper of the car as one HTML file that needs nothing else, made for A4 and grey printers. */
export function paperHtml(name: 'handover', paper: Handover): string
export function paperHtml(name: 'customer', paper: Customer): string
export function paperHtml(name: 'wishes', paper: Wishes): string
export function paperHtml(name: PaperName, paper: Paper): string {
  const body =
    name === 'handover'
      ? handoverBody(paper as Handover)
      : name === 'customer'
        ? customerBody(paper as Customer)
        : wishesBody(paper as Wishes)
  const title = `${paper.car}: ${PAPER_WORDS[name].toLowerCase()}`
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>${t(title)}</title><style>${REPORT_STYLE} .front { font-size: 10.5pt } .front li { margin: 1mm 0 } .small { font-size: 8.5pt }</style></head><body>
<header><h1>${t(title)}</h1><p>${t(factsOf(paper))}</p></header>
<main class="front">${carLine(paper)}${body}
<p class="sign">Read by: <span></span> Date: <span></span></p></main>
<footer><p>${t(paper.notice)} Made by Aftermile ${t(VERSION)} from this car's stored drives.</p></footer>
</body></html>
`
}

function factsOf({ drives, first, last, km, kit }: Paper): string {
  const when = first === null ? '' : first === last ? ` on ${first}` : ` from ${first} to ${last}`
  return [
    `${drives} stored drive${drives === 1 ? '' : 's'}${when}`,
    km === null ? '' : `${numberText(km)} km in all`,
    kit === null ? '' : `kit ${kit}`,
  ]
    .filter(Boolean)
    .join(' · ')
}

function carLine({ record }: Paper): string {
  const given = (
    [
      ['Registration', record.registration],
      ['VIN', record.vin],
      ['Customer', record.customer],
      ['Kilometres', record.odometer_km === null ? null : String(record.odometer_km)],
    ] as const
  ).filter(([, value]) => value !== null)
  return given.length === 0
    ? ''
    : `<p class="car">${given.map(([name, value]) => `${name}: <b>${t(value!)}</b>`).join(' · ')}</p>`
}

/** The verdict of the last drive, word for word, with what stands above everything. */
function verdictOf({ verdict }: Paper): string {
  if (verdict === null) return '<p class="verdict">No drive of this car is stored.</p>'
  const before = verdict.before_touching
  return `<p class="verdict">The last drive: ${t(verdict.sentence)}</p>${
    before.length === 0 ? '' : `<div class="before"><b>Before touching the car</b>${list(before)}</div>`
  }`
}

const list = (items: readonly string[]): string =>
  `<ul>${items.map((each) => `<li>${t(each)}</li>`).join('')}</ul>`

const section = (heading: string, inside: string): string =>
  inside === '' ? '' : `<section><h2>${t(heading)}</h2>${inside}</section>`

const listed = (heading: string, items: readonly string[]): string =>
  section(heading, items.length === 0 ? '' : list(items))

function handoverBody(paper: Handover): string {
  const rows = paper.findings.map((each) => {
    const where = each.stands ? 'in the last drive' : 'not found in the last drive'
    const became = each.deeds.map(deedText)
    const seen = each.retests.map(({ title, sentence: said }) => `${title}: ${said}`)
    const care =
      each.stands && each.cautions.length > 0
        ? `<br><i>Take care: ${t([...new Set(each.cautions.map(cautionName))].join('; '))}.</i>`
        : ''
    return `<tr class="${each.severity}"><td><span class="mark">${SEVERITY_WORDS[each.severity].word}</span></td><td><b>${t(sentence(each.headline))}</b><br>${where}; ${each.seen_in.length} of ${paper.drives} drives</td><td>${DEED_WORDS[each.state]}${became.length > 0 ? `<br>${became.map(t).join('<br>')}` : ''}</td><td>${seen.length > 0 ? seen.map(t).join('<br>') : each.stands ? `<span class="box"></span> ${t(sentence(each.next_step))}${care}` : ''}</td></tr>`
  })
  const cautions = [
    ...new Set(paper.findings.filter(({ stands }) => stands).flatMap((each) => each.cautions)),
  ]
  return `${verdictOf(paper)}
${section('Findings, and what became of them', rows.length === 0 ? '<p>No finding above a note in any stored drive.</p>' : `<table class="ledger"><thead><tr><th>Weight</th><th>Found</th><th>What became of it</th><th>Seen since, or next step</th></tr></thead><tbody>${rows.join('')}</tbody></table>${cautions.length > 0 ? `<ul class="care">${cautions.map((each) => `<li>${t(each)}</li>`).join('')}</ul>` : ''}`)}
${section(
  'Readings taken at the car',
  paper.readings.length === 0
    ? ''
    : `<table><thead><tr><th>Kind</th><th>Place</th><th>Reading</th></tr></thead><tbody>${paper.readings.map((each) => `<tr><td>${t(each.kind)}</td><td>${t(each.place)}</td><td>${t(readingText(each))}</td></tr>`).join('')}</tbody></table>`,
)}
${listed(
  'Maps tried',
  paper.maps.map(
    ({ map, about, at, by }) =>
      `From ${numberText(map.start_bar)} to ${numberText(map.full_bar)} bar, ${numberText(map.max_nm)} N·m (${day(at)}, ${by})${about ? `: ${about}` : ''}`,
  ),
)}
${listed(
  'Photos and files',
  paper.files.map(({ name, about, at, by }) => `${name}${about ? `: ${about}` : ''} (${day(at)}, ${by})`),
)}
${listed(
  'Notes',
  paper.notes.map(({ text, at, by }) => `${text} (${day(at)}, ${by})`),
)}
${listed(`Not answered by any drive (${paper.not_assessed.length})`, paper.not_assessed)}
${section(
  'From these files',
  `<ul class="small">${paper.sources.map(({ title, name, sha256 }) => `<li>${t(title)}: ${t(name)} <code>${sha256}</code></li>`).join('')}</ul>`,
)}`
}

function customerBody(paper: Customer): string {
  return `${verdictOf(paper)}
<p>What follows was read from the car's own logs over ${paper.drives} drive${paper.drives === 1 ? '' : 's'}. It says what was found, what was mended, and what could not be told.</p>
${section('What the last drive shows', paper.stands.length > 0 ? list(paper.stands) : '<p>No finding above a note among what was asked and could be told.</p>')}
${listed('What was mended', paper.mended)}
${listed('What was found and accepted', paper.accepted)}
${listed('Of these parts the last drive told nothing', paper.unseen)}
${paper.open === 0 ? '' : section('What could not be told', `<p>${paper.open} of the questions asked ${paper.open === 1 ? 'has' : 'have'} no answer in any drive so far. The hand-over sheet names ${paper.open === 1 ? 'it' : 'them'}.</p>`)}`
}

function wishesBody(paper: Wishes): string {
  if (paper.wishes.length === 0)
    return `${verdictOf(paper)}<p>${paper.open === 0 ? 'Every question has an answer in some drive of this car.' : `${paper.open} questions are open; the last drive allows nothing more to be asked of the car.`}</p>`
  const rows = paper.wishes.map(
    (each) =>
      `<tr><td><span class="box"></span></td><td><b>${t(each.what)}</b>${each.how.length > 0 ? list(each.how) : ''}</td><td>${list(each.closes)}</td></tr>`,
  )
  return `${verdictOf(paper)}<p>${paper.open} questions have no answer in any stored drive of this car. These few things would bring most of them nearer, the most useful first.</p>
<table class="wishes"><thead><tr><th></th><th>Log or do</th><th>What it would help to answer</th></tr></thead><tbody>${rows.join('')}</tbody></table>`
}

import { isUnit } from '../../shared/units.ts'
import { VOCABULARY } from './vocabulary.ts'

/** A column name taken apart. */
export interface NameWords {
  /** Words in lower case, in order, without unit and numbers. */
  readonly words: readonly string[]
  /** Numbers, in order; `M3C07` → 3, 7. */
  readonly numbers: readonly number[]
  /** The name with its numbers as `#`: columns with one template are a family. */
  readonly template: string
}

/** Phrases of several words that mean one thing. */
const PHRASES: readonly (readonly [RegExp, string])[] = [
  [/state[\s_.-]*of[\s_.-]*charge/gi, ' soc '],
  [
    /(estado|stato)[\s_.-]*(de[\s_.-]*|di[\s_.-]*|da[\s_.-]*)?(la[\s_.-]*)?(carga|carica)(?!\p{L})/giu,
    ' soc ',
  ],
  [
    /(luces|luz|luci|luce)[\s_.-]*(de[\s_.-]*|di[\s_.-]*|dello[\s_.-]*)?(freno|frenos|stop|frenata|freio|travão)(?!\p{L})/giu,
    ' brake lamp ',
  ],
  [/(rem|broms|bremse)(lichten|licht|ljus|lys)(?!\p{L})/giu, ' brake lamp '],
  [/marcia[\s_.-]*indietro|marcha[\s_.-]*atrás/giu, ' reverse '],
  [/stan[\s_.-]*naładowania|stav[\s_.-]*nabití/giu, ' soc '],
  [
    /(stycznik\p{L}*[\s_.-]*)?(ładowani\p{L}*[\s_.-]*wstępn\p{L}*|wstępn\p{L}*[\s_.-]*ładowani\p{L}*)/giu,
    ' precharge ',
  ],
  // Current and key are one word in Finnish.
  [/virta[\s_-]*avain/giu, ' key '],
  [/(?<![a-z])soc(?![a-z])/gi, ' soc '],
  [/intermediate[\s_-]*circuit/gi, ' dclink '],
  [/state[\s_.-]*of[\s_.-]*health/gi, ' soh '],
  [/dc[\s_/-]*(to[\s_-]*)?dc(?![a-z])/gi, ' dcdc '],
  [/dc[\s_.-]*(link|bus)(?![a-z])/gi, ' dclink '],
  [/(on[\s_-]*board|vehicle)[\s_-]*charger/gi, ' charger '],
  [/lead[\s_-]*acid/gi, ' lv '],
  [/duty[\s_.-]*(cycle|ratio)/gi, ' duty '],
  [/(aux(iliary)?[\s_.-]*contact|hilfskontakt)s?(?![a-z])/gi, ' feedback '],
  // A loop or switch that tripped; a trip alone is a distance.
  [
    /(?<=(inertia|crash|impact|interlock|hvil)[\s_.-]*(switch|sensor|loop)?[\s_.-]*)trip(ped)?(?![a-z])/gi,
    ' fault ',
  ],
  // AIR is an isolation relay elsewhere.
  [/(cabin|interior|ambient|outside|outdoor|exterior)[\s_.-]*air(?=[\s_.-]|t|$)/gi, '$1 '],
  [
    /(?<!\d|\d\.)(?<!(?:^|[^a-z])[a-z])(?<!(?:cell|zelle|module|mod)[\s_.-]?)(12|14)[\s_]?v(olts?)?(?![a-z])/gi,
    ' lv ',
  ],
  [
    /(?<!\d|\d\.)(?<!(?:^|[^a-z])[a-z])(?<!(?:cell|zelle|module|mod)[\s_.-]?)5[\s_]?v(olts?)?(?![a-z])/gi,
    ' vref ',
  ],
  [/(?<!\p{L})(k|cl|kl|t|terminal|clamp|klemme)[\s_.-]?15(?!\d)/giu, ' key '],
  [/(?<!\p{L})(kl|t|terminal|clamp|klemme)[\s_.-]?30(?!\d)/giu, ' lv '],
  [/ready[\s_.-]*to[\s_.-]*(drive|run|go)/gi, ' ready '],
  [/prêt[\s_.-]*à[\s_.-]*rouler/gi, ' ready '],
  // In French the switch is called what the contactor is: "contacteur frein", "contacteur à inertie".
  [/contacteur[\s_.-]*(?=(de[\s_.-]*|à[\s_.-]*|d[\s_.'’-]*)?(frein|inertie))/gi, ' switch '],
  [/(traction|slip)[\s_-]*(control|ctrl)/gi, ' tcs '],
  [/anti[\s_-]*lock/gi, ' abs '],
  [/(brems|stopp?)[\s_.-]*(leuchten?|licht(er)?|lamps?|lights?)(?![a-z])/gi, ' brake lamp '],
  [/feux?[\s_.-]*(de[\s_.-]*)?(stop|freinage|freins?)(?![a-z])/gi, ' brake lamp '],
  [/rückfahr[\s_.-]*(leuchten?|licht(er)?|scheinwerfer|lampen?)(?![a-z])/gi, ' reverse lamp '],
  [/feux?[\s_.-]*(de[\s_.-]*)?(recul|marche[\s_.-]*arrière)(?![a-z])/gi, ' reverse lamp '],
  [/sens[\s_.-]*(de[\s_.-]*)?(la[\s_.-]*)?marche/gi, ' selector '],
  [/levier[\s_.-]*(de[\s_.-]*)?(la[\s_.-]*)?vitesses?/gi, ' selector '],
  [/boîte[\s_.-]*(de[\s_.-]*)?vitesses?/gi, ' gearbox '],
  [/hill[\s_.-]*(start[\s_.-]*)?(hold|assist)/gi, ' hill hold '],
  [/(berg[\s_.-]*)?anfahr[\s_.-]*(hilfe|assistent)/gi, ' hill hold '],
  [/auto[\s_.-]*hold/gi, ' hold '],
  [/cruise[\s_.-]*(control|ctrl)(?![a-z])/gi, ' cruise '],
  [/régulateur[\s_.-]*(de[\s_.-]*)?vitesse/gi, ' cruise '],
  [/control[\s_.-]*pilot|pilote?[\s_.-]*contr[oô]le?/gi, ' pilot '],
  [/air[\s_.-]*(con|conditioning|conditioner)(?![a-z])/gi, ' aircon '],
  [/(?<![a-z])a\/?c[\s_.-]*compressor/gi, ' compressor '],
  [/(?<![a-z])(lv|low[\s_.-]*voltage)[\s_.-]*bus(?![a-z])/gi, ' lv '],
  [/(kilometer|km)[\s_.-]*stand/gi, ' odometer '],
  [/total[\s_.-]*(distance|mileage)/gi, ' odometer '],
  [/(eau[\s_.-]*de[\s_.-]*)?liquide[\s_.-]*(de[\s_.-]*)?refroidissement/gi, ' coolant '],
  [/low[\s_-]*voltage(?=[\s_-]*(batt|bat|supply|system|bus))/gi, ' lv '],
  [/(?<![a-z])ccl(?![a-z])/gi, ' charge limit '],
  [/(?<![a-z])dcl(?![a-z])/gi, ' discharge limit '],
  [/pre[\s_.-]+charge/gi, ' precharge '],
  [/pr[eé][\s_.-]+(carga|carica)(?!\p{L})/giu, ' precharge '],
  // Dutch for a cell; as a word of its own it would part "cellv".
  [/(?<!\p{L})cel(?=spanning|temp|[\s_.-]|\d)/giu, ' cell '],
  [/dis[\s_.-]+charge/gi, ' discharge '],
  [/motor[\s_-]*controller/gi, ' inverter '],
  [/high[\s_-]*voltage(?=[\s_-]*(batt|bat|pack|interlock|bus))/gi, ' hv '],
]

/** Whole names that hobbyists shorten to a few letters. Common practice, no source; values decide as ever. */
const SHORT: readonly (readonly [RegExp, string])[] = [
  [/^[vu]_?b(at|att)?$/i, 'pack voltage'],
  [/^i_?b(at|att)?$/i, 'pack current'],
  [/^n_?mot(or)?$/i, 'motor rpm'],
  [/^t_?w(ater)?_?(in|out)$/i, 'water temp $2'],
  [/^k_?(pre|pos|neg|main|plus|minus)$/i, 'contactor $1'],
  [/^(r_?iso)_k$/i, '$1'],
  [/^b(rk)?ps$/i, 'brake pressure'],
]

/** Between two words they join them: in Portuguese, Italian, Spanish; at an end they are a digital output or input. */
const JOINING = new Set(['do', 'di', 'e', 'z'])

/** Splits a name into words and numbers; the unit's own word is left out. */
export function nameWords(name: string, unit: string | null): NameWords {
  // `vcu/in/brake`: the side of a unit; `coolant/in/temp` is what it says.
  const said = name
    .normalize('NFC')
    .replace(/(?<!(cool|water|wasser|kühl|eau)\p{L}*)\/(in|out|inputs?|outputs?|ai|di|do)\//giu, '/')
    // `cell_0x1F`: a number in hex
    .replace(/(?<![a-z\d])0x([\da-f]{1,4})(?![\da-z])/gi, (_, hex: string) =>
      String(Number.parseInt(hex, 16)),
    )
  let text = withoutUnit(said, unit).replace(/[[({<]([^\])}>]*)[\])}>]/g, (whole, inner: string) =>
    isUnit(inner) || inner === unit || /^\s*[a-z]\s*$/i.test(inner) ? ' ' : ` ${whole.slice(1, -1)} `,
  )
  text = text
    .replace(/\s*[(\s][+](?=\s|$|\))/g, ' plus ')
    .replace(/(?<=\s)[-−–](?=\s|$)/g, ' minus ')
    .replace(/(?<=[a-z])\+/gi, ' plus ')
  text = text.replace(/(?<=(relay|contactor|pos|main|k)\s?)[-−]$/i, ' minus ')
  text = SHORT.reduce((so, [short, words]) => so.replace(short, words), text.trim())
  // Twice: as written (`SoC`), and with its humps taken apart (`12vBattery`, `PreCharge`).
  text = withPhrases(withoutHumps(withPhrases(text)))
  const template = text.replace(/\d+/g, '#').toLowerCase().trim()
  const parts = text
    .replace(/(\p{L})(\d)/gu, '$1 $2')
    .replace(/(\d)(\p{L})/gu, '$1 $2')
    .split(/[^\p{L}\d]+/u)
    .filter((part) => part !== '')
  const words: string[] = []
  const numbers: number[] = []
  for (const part of parts)
    if (/^\d+$/.test(part)) numbers.push(Number(part))
    else words.push(...splitGlued(part.toLowerCase()))
  return {
    words: words.filter((word, at) => !(at > 0 && at < words.length - 1 && JOINING.has(word))),
    numbers,
    template,
  }
}

const withPhrases = (text: string): string =>
  PHRASES.reduce((so, [phrase, word]) => so.replace(phrase, word), text)

/** `packVoltageHV` → `pack Voltage HV`. */
const withoutHumps = (text: string): string =>
  text.replace(/(\p{Ll})(\p{Lu})/gu, '$1 $2').replace(/(\p{Lu}+)(\p{Lu}\p{Ll})/gu, '$1 $2')

/** The name without its unit at the end: `pack_i_a`, `Cell 1, mV`, `Speed in km/h`, `t_mod_deg_c`. */
function withoutUnit(name: string, unit: string | null): string {
  // `u_12v` names the 12 V system; its V is no unit behind a name.
  if (!unit || /(?<![\da-z]|\d\.)(?<!(cell|zelle|module|mod)[\s_.-]?)(5|12|14)v$/i.test(name)) return name
  // a sign may be written otherwise or not at all, but it is no letter of the name (`nabití` in %)
  const letters = [...unit]
    .map((sign) => (/[a-z0-9]/i.test(sign) ? sign : /\p{L}/u.test(sign) ? `${sign}?` : '[^\\p{L}\\d]*'))
    .join('[_ ]?')
  const end = new RegExp(String.raw`(?:[\s_.,;:/\-]+|(?<=[\p{L}\d]))${letters}[^\p{L}\d]*$`, 'iu')
  const shorter = name.replace(end, '')
  if (shorter === '' || shorter === name) return name
  // "in V" loses its "in"; "coolant in °C" does not.
  return /cool|water|wasser|kühl|eau/i.test(shorter) ? shorter : shorter.replace(/\s+in$/i, '')
}

/** `battvolt` → batt, volt; a word that is known, or cannot be split into known ones, stays. */
function splitGlued(word: string): string[] {
  if (known(word) || word.length < 3) return [word]
  const best: (string[] | null)[] = new Array(word.length + 1).fill(null)
  best[0] = []
  for (let to = 1; to <= word.length; to++)
    for (let from = Math.max(0, to - 20); from < to; from++) {
      const before = best[from]
      if (!before) continue
      const piece = word.slice(from, to)
      // One-letter pieces only at the ends: vcell, packv, tmot.
      const edge = piece.length === 1 && /^[vuit]$/.test(piece) && (from === 0 || to === word.length)
      // In three letters only what means something counts: `uzk`, not `det`.
      const fits =
        word.length > 3 ? known(piece) || joined(piece, to < word.length) : VOCABULARY.meanings.has(piece)
      if (!(edge || (piece.length >= 2 && fits))) continue
      const candidate = [...before, piece]
      if (!best[to] || cost(candidate) < cost(best[to]!)) best[to] = candidate
    }
  return (
    best[word.length]?.map((piece) =>
      known(piece) || !joined(piece, true) ? piece : piece.slice(0, -1),
    ) ?? [word]
  )
}

/** `isolasjons|motstand`: an s that joins two words. */
const joined = (piece: string, goesOn: boolean): boolean =>
  goesOn && piece.length >= 6 && piece.endsWith('s') && known(piece.slice(0, -1))

const cost = (pieces: readonly string[]): number =>
  pieces.reduce((sum, piece) => sum + (piece.length === 1 ? 1.6 : piece.length === 2 ? 1.4 : 1), 0)

const known = (word: string): boolean =>
  VOCABULARY.meanings.has(word) || VOCABULARY.noise.has(word) || VOCABULARY.foreign.has(word)

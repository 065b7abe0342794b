import type { ChannelEntry } from '../../shared/channels.ts'

const ON =
  /^(on|true|yes|y|ja|oui|closed?|active|activated|ok|okay|enabled?|ready|pressed|engaged|high|in|connected|plugged( in)?|present|latched|running|set|an|ein|geschlossen|fermé|healthy|good|pass|1|1\.0)$/i
const OFF =
  /^(off|false|no|n|nein|non|open(ed)?|inactive|not active|fault|faulty|failed|fail|disabled?|not ready|released|disengaged|low|out|disconnected|unplugged|absent|not present|tripped|stopped|clear|aus|offen|ouvert|bad|idle|0|0\.0)$/i
const FORWARD = /^(d|f|fwd|forward|forwards|drive|vorwärts|s|b|l|e|eco|sport|low|high|1|d1|d2|\+1)$/i
const REVERSE = /^(r|rev|reverse|backward|backwards|rückwärts|-1)$/i
const NEUTRAL = /^(n|p|neutral|park|parked|parking|0|none|off|leerlauf|np|p\/n|n\/p)$/i

/** What each text means as 0/1, in the labels' order; null where one of them is not understood. */
export function switchWords(labels: readonly string[]): number[] | null {
  const meant = labels.map((label) => (ON.test(label.trim()) ? 1 : OFF.test(label.trim()) ? 0 : Number.NaN))
  return meant.some(Number.isNaN) || labels.length > 4 ? null : meant
}

/** The same for a selector: −1 reverse, 0 neutral or park, 1 forward. */
export function selectorWords(labels: readonly string[]): number[] | null {
  const meant = labels.map((label) => {
    const text = label.trim()
    return REVERSE.test(text) ? -1 : NEUTRAL.test(text) ? 0 : FORWARD.test(text) ? 1 : Number.NaN
  })
  return meant.some(Number.isNaN) ? null : meant
}

/** Text of a channel as numbers where the catalogue wants numbers; null where it stays text. */
export function numbersOfLabels(entry: ChannelEntry, labels: readonly string[]): number[] | null {
  if (entry.id === 'selector') return selectorWords(labels)
  if (entry.kind === 'switch') return switchWords(labels)
  return null
}

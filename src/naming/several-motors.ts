import type { RawSeries } from '../../shared/raw-log.ts'
import { quantityOf } from '../../shared/units.ts'
import { correlation } from '../math/correlation.ts'
import { median } from '../math/stats.ts'
import { linearAt } from '../samples/on-one-clock.ts'
import { NAME_RULES } from './channel-names.ts'
import { columnValues, valuesFit } from './column-values.ts'
import { matchWords } from './match-words.ts'
import type { Named } from './name-series.ts'
import { nameWords } from './name-words.ts'
import { LEAST_SURE } from './pick.ts'

/** Words and numbers that say which motor of a car. Common practice, no source. */
const PLACE =
  /^(front|rear|fr?t|rr|left|right|lh|rh|vorn|hinten|vorne|links|rechts|avant|arrière|gauche|droite?|delantero|trasero|anteriore|posteriore|dianteiro|traseiro|voor|achter|a|b|#)$/
/** A motor that hardly turns tells no ratio, rpm; motors of one car turn in proportion. Common practice, no source. */
const TURNS_RPM = 200
const TOGETHER_R = 0.98
/** Values of two senders lie between each other's no farther apart, s. */
const STALE_S = 2
/** So sure of the words and values as an only motor's must be. */
const SURE = 0.6

type Id = 'motor_speed' | 'torque' | 'torque_request'
const IDS: readonly Id[] = ['motor_speed', 'torque', 'torque_request']

interface Group {
  readonly id: Id
  readonly members: readonly Named[]
  readonly places: readonly string[]
}

/**
 * A car with a motor at each axle or wheel logs a speed, torque and request for each: what the rest of the program asks
 * of "the motor" is then that of all of them, at the shaft of the strongest: T = Σ Tᵢ · nᵢ / n. The members keep their
 * own names beside it. Nothing is added up where a column without a place already says it, or where the motors do not
 * turn in proportion.
 */
export function withSeveralMotors(all: readonly Named[]): readonly Named[] {
  const groups = IDS.flatMap((id) => groupOf(id, all) ?? [])
  const torque = groups.find(({ id }) => id === 'torque') ?? groups.find(({ id }) => id === 'torque_request')
  if (!torque) return all
  const speeds = groups.find(({ id }) => id === 'motor_speed')
  const order = torque.places
  const most = torque.members.map(({ series }) =>
    series.values.reduce((high, v) => Math.max(high, Math.abs(v) || 0), 0),
  )
  const lead = most.indexOf(Math.max(...most))
  const ratios = order.map((place) => (speeds ? ratioOf(speeds, place, order[lead]!) : 1))
  if (ratios.some((ratio) => ratio === null)) return all
  const added: Named[] = []
  const parts = new Set<Named>()
  for (const group of groups) {
    if (group.places.length !== order.length || !order.every((place) => group.places.includes(place)))
      continue
    const inOrder = order.map((place) => group.members[group.places.indexOf(place)]!)
    for (const each of inOrder) parts.add(each)
    added.push(together(group.id, inOrder, lead, ratios as number[]))
  }
  const why = `one of ${order.length} motors: what they give together stands beside it`
  return [
    ...all.map((each) => (parts.has(each) ? { ...each, id: each.series.name, sureness: 0, why } : each)),
    ...added,
  ]
}

/** Two to four columns that differ in the motor's place only, each of which alone would be this channel. */
function groupOf(id: Id, all: readonly Named[]): Group | null {
  const byKey = new Map<string, { named: Named; place: string }[]>()
  for (const named of all) {
    const { series, sureness } = named
    if (series.channel !== null || series.labels !== null || series.timeS.length === 0) continue
    if (sureness >= LEAST_SURE && named.id !== id) continue
    const name = nameWords(series.name, series.unit)
    const text = name.numbers.length > 0 ? name.template : series.name.toLowerCase()
    const parts = text.split(/[^\p{L}#]+|(?=#)|(?<=#)/u).filter((part) => part !== '')
    const at = parts.findIndex((part) => PLACE.test(part))
    if (at < 0) {
      if (named.id === id) return null
      continue
    }
    const place = parts[at] === '#' ? String(name.numbers[0]) : parts[at]!
    const words = name.words.filter((word) => word !== place)
    const sure = Math.max(
      0,
      ...NAME_RULES.filter((rule) => rule.id === id).map(
        (rule) => matchWords(words, new Set(), quantityOf(series.unit ?? ''), rule)?.score ?? 0,
      ),
    )
    if (sure * valuesFit(id, series.unit, columnValues(series)) < SURE) continue
    // the speed of a motor, not of the car's front
    if (id === 'motor_speed' && quantityOf(series.unit ?? 'rpm') !== 'rpm') continue
    const key = `${parts.map((part, k) => (k === at ? '@' : part)).join(' ')}|${quantityOf(series.unit ?? '')}`
    byKey.set(key, [...(byKey.get(key) ?? []), { named, place }])
  }
  const found = [...byKey.values()].filter(
    (each) =>
      each.length >= 2 && each.length <= 4 && new Set(each.map(({ place }) => place)).size === each.length,
  )
  const [only] = found
  if (!only || found.length > 1) return null
  return { id, members: only.map(({ named }) => named), places: only.map(({ place }) => place) }
}

/** A motor's speed over the leading one's, signed; null where they do not turn in proportion. */
function ratioOf(speeds: Group, place: string, leading: string): number | null {
  const lead = speeds.members[speeds.places.indexOf(leading)]?.series
  const own = speeds.members[speeds.places.indexOf(place)]?.series
  if (!lead || !own) return null
  if (lead === own) return 1
  const beside = on(own, lead.timeS)
  const both = [...beside.keys()].filter(
    (i) => Math.abs(lead.values[i]!) > TURNS_RPM && Math.abs(beside[i]!) > TURNS_RPM,
  )
  if (both.length < 10) return null
  const r = correlation(
    Float64Array.from(both, (i) => Math.abs(lead.values[i]!)),
    Float64Array.from(both, (i) => Math.abs(beside[i]!)),
  ).r
  return r > TOGETHER_R ? median(both.map((i) => beside[i]! / lead.values[i]!)) : null
}

const on = ({ timeS, values }: RawSeries, atS: Float64Array): Float64Array =>
  timeS === atS ? values : linearAt({ timeS, values }, atS, STALE_S)

function together(id: Id, members: readonly Named[], lead: number, ratios: readonly number[]): Named {
  const { series } = members[lead]!
  const names = members.map((each) => each.series.name).join(' + ')
  const values =
    id === 'motor_speed' ? Float64Array.from(series.values) : new Float64Array(series.values.length)
  if (id !== 'motor_speed')
    members.forEach((each, at) => {
      const own = on(each.series, series.timeS)
      for (let i = 0; i < values.length; i++) values[i]! += ratios[at]! * own[i]!
    })
  return {
    series: {
      ...series,
      name: id === 'motor_speed' ? `${series.name} (of ${members.length} motors)` : names,
      values,
    },
    id,
    sureness: 0.85,
    why:
      id === 'motor_speed'
        ? `the speed of the motor that gives most of the torque; the others turn at ${ratios.map((k) => k.toFixed(3)).join(', ')} of it`
        : `${members.length} motors drive this car: their torque added up, at the shaft of the strongest`,
  }
}

import { channelNumber } from '../../../shared/channels.ts'
import type { Random } from '../../simulator/random.ts'
import { familyOf } from './scene.ts'

/** Command and feedback of a contactor, told in English everywhere but German. */
function pairs(
  id: string,
  [plain, short, german]: readonly [string, string, string],
): Record<string, string[]> {
  return {
    [`${id}_command`]: [
      `${plain} command`,
      `${short} cmd`,
      `${german} soll`,
      `${plain} command`,
      `${short} cmd`,
      `${plain} cmd`,
    ],
    [`${id}_feedback`]: [
      `${plain} feedback`,
      `${short} fb`,
      `${german} rückmeldung`,
      `${plain} feedback`,
      `${short} fb`,
      `${plain} fb`,
    ],
  }
}

/**
 * What boxes call channels, a list a channel in the order of `VOCABULARIES`; words apart by blanks, `#` the number.
 * Our own words of the trade; common practice, no source.
 */
const WORDS: Readonly<Record<string, readonly string[]>> = {
  wheel_speed: [
    'wheel speed #',
    'whl spd #',
    'rad # geschwindigkeit',
    'roue # vitesse',
    'v rad #',
    'wheel # speed',
  ],
  ...pairs('contactor_precharge', ['precharge contactor', 'prechg rly', 'vorlade schütz']),
  ...pairs('contactor_positive', ['positive contactor', 'pos ctr', 'schütz plus']),
  ...pairs('contactor_negative', ['negative contactor', 'neg ctr', 'schütz minus']),
  lowest_cell_voltage: [
    'lowest cell voltage',
    'v cell min',
    'zelle spannung min',
    'tension cellule min',
    'u z min',
    'min cell volts',
  ],
  highest_cell_voltage: [
    'highest cell voltage',
    'v cell max',
    'zelle spannung max',
    'tension cellule max',
    'u z max',
    'max cell volts',
  ],
  cell_voltage: [
    'cell voltage #',
    'v cell #',
    'zelle # spannung',
    'cellule # tension',
    'u z #',
    'cell volts #',
  ],
  module_temperature: [
    'module temperature #',
    'temp mod #',
    'modul temperatur #',
    'module # temp',
    't bat #',
    'pack temp sensor #',
  ],
  pack_voltage: [
    'pack voltage',
    'batt v',
    'akku spannung',
    'tension batterie',
    'u hv bat',
    'traction battery volts',
  ],
  pack_current: [
    'pack current',
    'batt i',
    'akku strom',
    'courant batterie',
    'i hv bat',
    'traction battery amps',
  ],
  link_voltage: [
    'dc link voltage',
    'inv dc v',
    'zwischenkreis spannung',
    'tension onduleur',
    'u zk',
    'dc bus volts',
  ],
  isolation_resistance: [
    'isolation resistance',
    'iso res',
    'isolations widerstand',
    'résistance isolation',
    'r iso',
    'insulation',
  ],
  lv_voltage: [
    '12v battery voltage',
    'lv batt v',
    'bordnetz spannung',
    'tension 12v',
    'u kl30',
    'aux battery volts',
  ],
  dcdc_current: ['dcdc output current', 'dcdc i', 'dcdc strom', 'courant dcdc', 'i dcdc', 'dcdc amps'],
  speed: ['vehicle speed', 'veh spd', 'fahrzeug geschwindigkeit', 'vitesse véhicule', 'v fzg', 'road speed'],
  torque_request: [
    'torque request',
    'tq req',
    'drehmoment soll',
    'couple consigne',
    'm soll',
    'torque demand',
  ],
  torque: ['motor torque', 'tq act', 'drehmoment ist', 'couple moteur', 'm ist', 'torque feedback'],
  motor_speed: ['motor speed', 'mot rpm', 'motor drehzahl', 'régime moteur', 'n mot', 'motor revs'],
  pedal_track_1: [
    'accelerator pedal sensor 1',
    'app 1',
    'fahrpedal spur 1',
    'pédale accélérateur piste 1',
    'u fp 1',
    'throttle pot 1',
  ],
  pedal_track_2: [
    'accelerator pedal sensor 2',
    'app 2',
    'fahrpedal spur 2',
    'pédale accélérateur piste 2',
    'u fp 2',
    'throttle pot 2',
  ],
  pedal_position: [
    'accelerator pedal position',
    'app pct',
    'fahrpedal stellung',
    'position accélérateur',
    'fahrpedal',
    'throttle',
  ],
  brake_pressure: [
    'brake pressure',
    'brk prs',
    'brems druck',
    'pression frein',
    'p brk',
    'brake line pressure',
  ],
  charge_limit: [
    'charge current limit',
    'chg lim',
    'lade strom grenze',
    'limite courant charge',
    'i chg max',
    'max charge amps',
  ],
  discharge_limit: [
    'discharge current limit',
    'dch lim',
    'entlade strom grenze',
    'limite courant décharge',
    'i dch max',
    'max discharge amps',
  ],
  coolant_in: [
    'coolant temperature inlet',
    'cool in',
    'kühlmittel temperatur ein',
    'temperature eau entrée',
    't kühlmittel ein',
    'water temp in',
  ],
  coolant_out: [
    'coolant temperature outlet',
    'cool out',
    'kühlmittel temperatur aus',
    'temperature eau sortie',
    't kühlmittel aus',
    'water temp out',
  ],
  inverter_temperature: [
    'inverter temperature',
    'inv temp',
    'umrichter temperatur',
    'temperature onduleur',
    't inv',
    'controller temp',
  ],
  motor_temperature: [
    'motor temperature',
    'mot temp',
    'motor temperatur',
    'temperature moteur',
    't mot',
    'stator temp',
  ],
  soc: ['state of charge', 'soc', 'ladezustand', 'soc batterie', 'soc', 'battery soc'],
  bms_state: ['bms state', 'bms st', 'bms zustand', 'état bms', 'bms status', 'battery unit mode'],
  inverter_state: [
    'inverter state',
    'inv st',
    'umrichter zustand',
    'état onduleur',
    'inv status',
    'controller state',
  ],
  key_on: ['key on', 'ign', 'zündung', 'contact', 'kl15', 'ignition switch'],
  charge_plug: [
    'charge plug connected',
    'chg plug',
    'ladestecker',
    'prise charge',
    'plug det',
    'charge cable present',
  ],
  interlock_closed: [
    'interlock closed',
    'hvil ok',
    'interlock geschlossen',
    'interlock fermé',
    'hvil zu',
    'hv interlock loop ok',
  ],
  inertia_closed: [
    'inertia switch closed',
    'inertia ok',
    'crash schalter ok',
    'contacteur inertie ok',
    'crash ok',
    'impact switch ok',
  ],
  brake_switch: [
    'brake switch',
    'brk sw',
    'brems schalter',
    'contacteur frein',
    'brk on',
    'brake pedal pressed',
  ],
  selector: ['gear selector', 'dir sel', 'wählhebel', 'sélecteur direction', 'fahrstufe', 'shifter position'],
  contactor_precharge: [
    'precharge contactor',
    'prechg rly',
    'vorlade schütz',
    'relais précharge',
    'k vor',
    'pre charge relay',
  ],
  contactor_positive: [
    'positive contactor',
    'pos ctr',
    'schütz plus',
    'relais principal positif',
    'k plus',
    'main relay positive',
  ],
  contactor_negative: [
    'negative contactor',
    'neg ctr',
    'schütz minus',
    'relais principal négatif',
    'k minus',
    'main relay negative',
  ],
  drive_ready: ['drive ready', 'rtd', 'fahrbereit', 'prêt à rouler', 'ready', 'ready to drive'],
}

export const VOCABULARIES = ['plain', 'short', 'german', 'french', 'letters', 'garage'] as const
export const CASES = ['words', 'snake', 'camel', 'Pascal', 'dotted', 'UPPER', 'kebab'] as const

export interface NameStyle {
  readonly vocabulary: (typeof VOCABULARIES)[number]
  readonly letters: (typeof CASES)[number]
  readonly numberFrom: 0 | 1
  /** `plain` 1 … N; `module` M3C07; `box` by halves of the pack, each counted again from the first. */
  readonly cellsBy: 'plain' | 'module' | 'box'
  readonly cellsPerModule: number
  readonly cells: number
  /** Written before every name, `ecu1.`. */
  readonly prefix: string
  /** Channel → its name, before any other. */
  readonly own?: Readonly<Record<string, string>>
}

export function randomNames(random: Random, cells: number, cellsPerModule: number): NameStyle {
  return {
    vocabulary: random.pick(VOCABULARIES),
    letters: random.pick(CASES),
    numberFrom: random.pick([0, 1]),
    cellsBy: random.pick(['plain', 'plain', 'module', 'box']),
    cells,
    cellsPerModule,
    prefix: random.pick(['', '', '', 'log ', 'can1 ']),
  }
}

const capital = (word: string): string => word.slice(0, 1).toUpperCase() + word.slice(1)

/** The column's name without its unit. */
export function nameOf(id: string, style: NameStyle): string {
  if (style.own?.[id]) return style.own[id]
  const family = familyOf(id)
  const ways = WORDS[family]
  if (!ways) throw new Error(`no name for ${id}`)
  const number = channelNumber(id)
  const words = (style.prefix + cellPlace(id, style) + ways[VOCABULARIES.indexOf(style.vocabulary)]!)
    .replace('#', number > 0 ? counted(id, number, style) : '#')
    .split(' ')
    .filter((each) => each !== '')
  switch (style.letters) {
    case 'words':
      return capital(words.join(' '))
    case 'snake':
      return words.join('_')
    case 'kebab':
      return words.join('-')
    case 'UPPER':
      return words.join('_').toUpperCase()
    case 'dotted':
      return words.join('.')
    case 'Pascal':
      return words.map(capital).join('')
    default:
      return words.map((word, at) => (at === 0 ? word : capital(word))).join('')
  }
}

function cellPlace(id: string, style: NameStyle): string {
  if (familyOf(id) !== 'cell_voltage' || style.cellsBy !== 'box') return ''
  return channelNumber(id) <= style.cells / 2 ? 'box a ' : 'box b '
}

function counted(id: string, number: number, style: NameStyle): string {
  if (familyOf(id) === 'cell_voltage') {
    const per = style.cellsPerModule
    if (style.cellsBy === 'module') {
      const module = Math.floor((number - 1) / per) + style.numberFrom
      const cell = ((number - 1) % per) + style.numberFrom
      return `M${module}C${String(cell).padStart(2, '0')}`
    }
    if (style.cellsBy === 'box') {
      const half = style.cells / 2
      return String((number <= half ? number : number - half) - 1 + style.numberFrom)
    }
  }
  return String(number - 1 + style.numberFrom)
}

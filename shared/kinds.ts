/**
 * Every kind of finding: the part of the car that it belongs to, the view of the page that looks at it, the types of
 * what it accuses, and its name in a fitter's words. A kind or subject that does not stand here does not compile.
 * Adding one: a row here, and the question that raises it.
 */
export const AREAS = ['log', 'start', 'pack', 'heat', 'pedal', 'brake', 'isolation', 'energy'] as const
export type Area = (typeof AREAS)[number]

/** The page's views that a finding can lead to. */
export type KindView =
  | 'pack'
  | 'heat'
  | 'start'
  | 'charge'
  | 'pedal'
  | 'brake'
  | 'drive'
  | 'channels'
  | 'vehicle'

export const SUBJECT_TYPES = [
  'joint',
  'cell',
  'cell-pair',
  'main-path',
  'contactor',
  'box-link',
  'module',
  'channel',
  'temperature-sensor',
  'coolant',
  'pack',
  'pedal',
  'selector',
  'brake',
  'precharge',
  'start-step',
  'isolation',
  'unit',
  'axle',
  'file',
  'charger',
  'load',
  'node',
  'supply',
  'lamp',
] as const
export type SubjectType = (typeof SUBJECT_TYPES)[number]

export interface KindEntry {
  readonly area: Area
  readonly view: KindView
  readonly subjects: readonly SubjectType[]
  /** What it is, as a fitter says it; goes on a sentence. */
  readonly words: string
  /** Keeps a line of its own on the first screen, whatever explains it. */
  readonly ownLine?: true
}

const row = (
  area: Area,
  view: KindView,
  subjects: SubjectType | readonly SubjectType[],
  words: string,
): KindEntry => ({ area, view, subjects: typeof subjects === 'string' ? [subjects] : subjects, words })

/** As `row`, for what is never folded under its cause: temperature, isolation, weld, opening under load, cell limit. */
const ownLine = (...of: Parameters<typeof row>): KindEntry => ({ ...row(...of), ownLine: true })

export const KINDS = {
  // the pack
  'joint-resistance-high': row('pack', 'pack', ['joint', 'cell'], 'a joint with too much resistance'),
  'cell-weak': row('pack', 'pack', ['cell', 'joint', 'module'], 'a weak cell'),
  'cell-imbalance': row('pack', 'pack', 'cell', 'a cell out of balance'),
  'sense-lead-offset': row('pack', 'pack', 'cell-pair', 'a sense lead that shifts two readings'),
  'sense-tap-misplaced': row(
    'pack',
    'pack',
    ['cell-pair', 'joint'],
    'a sense tap at the wrong end of a busbar',
  ),
  'parallel-cell-open': row('pack', 'pack', ['cell', 'joint'], 'a parallel cell without contact'),
  'long-busbar': row('pack', 'pack', ['joint', 'cell'], 'a longer busbar or cable by design'),
  'cell-reading-frozen': row('pack', 'pack', 'cell', 'a cell reading that stands still'),
  'cell-reading-invalid': row('pack', 'pack', 'cell', 'a cell reading that is not believable'),
  'cell-voltage-limit': ownLine('pack', 'pack', ['cell', 'pack'], 'a cell past its voltage limit'),
  'cell-self-discharge': ownLine('pack', 'pack', 'cell', 'a cell that empties by itself'),
  // as it was called until 27 November 2026: stored reviews hold it
  'resistance-grown': row('pack', 'pack', ['cell', 'joint'], 'resistance gained since the last drive'),
  'main-path-resistance-high': row('pack', 'pack', 'main-path', 'too much resistance in the main path'),
  'contactor-resistance-high': row('pack', 'pack', 'contactor', 'too much resistance across the contactors'),
  'box-link-resistance-high': row('pack', 'pack', 'box-link', 'too much resistance between the boxes'),
  'current-offset': row('pack', 'pack', 'channel', 'a current sensor with an offset'),
  'current-clipped': row('pack', 'pack', 'channel', 'a current sensor at the end of its range'),
  'charge-current-over-limit': row('pack', 'pack', 'pack', 'charge current over its limit'),
  'discharge-current-over-limit': row('pack', 'pack', 'pack', 'discharge current over its limit'),
  'soc-disagrees': row('pack', 'pack', 'pack', 'a state of charge that does not fit'),
  'energy-implausible': row('energy', 'drive', ['pack', 'channel'], 'energy that does not fit the drive'),
  // heat
  'module-cooling-poor': row('heat', 'heat', 'module', 'a module that sheds its heat badly'),
  'temperature-limit': ownLine(
    'heat',
    'heat',
    ['module', 'channel', 'temperature-sensor'],
    'a temperature past its limit',
  ),
  'temperature-rise-fast': ownLine(
    'heat',
    'heat',
    ['module', 'channel', 'temperature-sensor'],
    'a temperature that rises fast',
  ),
  'temperature-forecast': row('heat', 'heat', 'module', 'a temperature limit that this load would pass'),
  'self-heating': ownLine('heat', 'heat', ['module', 'temperature-sensor'], 'a pack that warms by itself'),
  'charge-when-cold': ownLine(
    'heat',
    'heat',
    ['module', 'channel', 'temperature-sensor'],
    'charging while too cold',
  ),
  'temperature-reading-invalid': row(
    'heat',
    'heat',
    ['temperature-sensor', 'channel'],
    'a temperature reading that is not believable',
  ),
  'temperature-reading-frozen': row(
    'heat',
    'heat',
    ['temperature-sensor', 'channel'],
    'a temperature reading that stands still',
  ),
  'temperature-sensor-swapped': row('heat', 'heat', 'temperature-sensor', 'two temperature sensors swapped'),
  'coolant-flow-doubtful': row('heat', 'heat', 'coolant', 'too little coolant flow'),
  'pump-without-flow': row('heat', 'heat', 'coolant', 'a coolant pump that moves nothing'),
  // start and supply
  'no-drive': row('start', 'start', 'start-step', 'a car that does not become able to drive'),
  'start-step-time': row('start', 'start', 'start-step', 'a step of the start slower or faster than usual'),
  'drive-lost': ownLine('start', 'start', 'start-step', 'drive lost'),
  'charge-not-started': row('start', 'charge', 'start-step', 'a charge that did not start'),
  'charge-interrupted': row('start', 'charge', 'charger', 'a charge that broke off'),
  'charge-slow': row('start', 'charge', 'charger', 'a charge slower than asked'),
  'load-stays-on': row('start', 'start', 'load', 'a load that stays on'),
  'precharge-incomplete': row('start', 'start', 'precharge', 'precharge that does not reach its voltage'),
  'precharge-open': row('start', 'start', 'precharge', 'an open precharge path'),
  'precharge-time-off': row(
    'start',
    'start',
    'precharge',
    'precharge at another speed than its parts explain',
  ),
  'link-discharge-slow': row('start', 'start', 'precharge', 'a link that empties slowly'),
  'back-feed': row('start', 'start', ['precharge', 'contactor', 'supply'], 'a link fed from elsewhere'),
  'contactor-welded': ownLine('start', 'start', 'contactor', 'a welded contactor'),
  'contactor-opened-under-load': ownLine('start', 'start', 'contactor', 'a contactor that opened under load'),
  'contactor-feedback-disagrees': row(
    'start',
    'start',
    'contactor',
    'a contactor’s feedback that does not fit',
  ),
  'contactor-bounce': row('start', 'start', 'contactor', 'a contactor that bounces'),
  'inertia-switch-open': row('start', 'start', 'start-step', 'the inertia switch open'),
  'interlock-open': row('start', 'start', 'start-step', 'the interlock loop open'),
  'charge-plug-in': row('start', 'start', 'start-step', 'the charge plug in'),
  'selector-not-neutral': row('start', 'start', 'start-step', 'the selector out of neutral'),
  'lv-voltage-low': row('start', 'start', ['start-step', 'supply'], 'low 12 V'),
  'lv-dip-at-pull-in': row(
    'start',
    'start',
    ['start-step', 'supply'],
    '12 V that dips as a contactor pulls in',
  ),
  'dcdc-not-charging': row('start', 'start', 'supply', 'a 12 V converter that does not charge'),
  'isolation-low': ownLine('isolation', 'start', 'isolation', 'low isolation'),
  'charger-isolation-low': ownLine(
    'isolation',
    'charge',
    'charger',
    'low isolation with the charger connected',
  ),
  'fault-reported': row('start', 'start', 'unit', 'a fault that a control unit reports'),
  // pedal and torque
  'pedal-mismatch': row('pedal', 'pedal', 'pedal', 'two pedal tracks that do not agree'),
  'pedal-out-of-range': row('pedal', 'pedal', 'pedal', 'a pedal track out of its range'),
  'pedal-tracks-equal': row('pedal', 'pedal', 'pedal', 'two pedal tracks that read alike'),
  'pedal-rest-moves': row('pedal', 'pedal', 'pedal', 'a released pedal whose reading moves'),
  'pedal-with-brake': row('pedal', 'pedal', 'pedal', 'accelerator and brake pressed together'),
  'torque-without-pedal': ownLine('pedal', 'pedal', 'pedal', 'torque with the pedal released'),
  'torque-against-selector': ownLine('pedal', 'pedal', 'selector', 'torque against the selector'),
  'torque-unrequested': ownLine('pedal', 'pedal', 'unit', 'torque that nobody requested'),
  'torque-lag': row('pedal', 'pedal', 'pedal', 'torque that follows late'),
  // brakes
  'regen-lag': row('brake', 'brake', 'brake', 'regeneration that follows late'),
  'regen-lock-margin': row('brake', 'brake', 'axle', 'regeneration near the grip of its axle'),
  'regen-dead-band': row('brake', 'brake', 'brake', 'regeneration that begins late in the pedal'),
  'regen-limited': row('brake', 'brake', 'brake', 'regeneration held at a limit'),
  'regen-step': row('brake', 'brake', 'brake', 'regeneration that steps'),
  'brake-signal-missing': ownLine('brake', 'brake', 'brake', 'a brake signal that is missing'),
  'brake-drag': row('brake', 'brake', 'brake', 'a brake that drags'),
  'lamp-disagrees': row('brake', 'brake', 'lamp', 'a lamp that does not follow'),
  'selector-moved': row('brake', 'pedal', 'selector', 'a selector moved at speed'),
  'direction-against-selector': row('brake', 'pedal', 'selector', 'a car that goes against its selector'),
  'wheel-slip': row('brake', 'brake', 'axle', 'wheel slip'),
  // the log
  'node-silent': row('log', 'channels', 'node', 'a control unit that falls silent'),
  'frames-lost': row('log', 'channels', ['node', 'file'], 'messages lost on the bus'),
  'bus-errors': row('log', 'channels', ['node', 'file'], 'bus errors'),
  'log-gap': row('log', 'channels', ['file', 'channel'], 'a gap in the log'),
  'clock-stepped': row('log', 'channels', 'file', 'a clock that steps'),
  'rows-repeated': row('log', 'channels', 'file', 'rows read twice'),
  'signs-differ': row('log', 'channels', 'channel', 'two signals of opposite sign'),
  'unit-doubtful': row('log', 'channels', 'channel', 'a unit in doubt'),
  'vehicle-file-disagrees': row(
    'log',
    'vehicle',
    ['file', 'channel', 'pack'],
    'a vehicle file that the log contradicts',
  ),
  'changed-since-last-drive': row('log', 'drive', SUBJECT_TYPES, 'a change since the last drive'),
  'unlike-other-builds': row('log', 'drive', SUBJECT_TYPES, 'a figure unlike other builds'),
} as const satisfies Record<string, KindEntry>

export type Kind = keyof typeof KINDS
export const KIND_NAMES = Object.keys(KINDS) as [Kind, ...Kind[]]

/** What a kind is called inside a sentence. */
export const kindWords = (kind: Kind): string => KINDS[kind].words
/** True for what keeps a line of its own on the first screen, whatever explains it. */
export const keepsLine = (kind: Kind): boolean => (KINDS[kind] as KindEntry).ownLine === true

/**
 * The words of column names, by what they mean: one line a meaning, all spellings after it. A word may stand on
 * several lines (`pos`: positive or position); the rules of `channel-names.ts` decide which reading explains the name.
 * English first, then abbreviations, then German and French workshop words. Common practice, no source.
 */
const MEANINGS: Readonly<Record<string, string>> = {
  // where
  pack: 'pack batt battery bat batteries hvbatt hvb accumulator accu ess ress akku batterie traktionsbatterie hochvoltbatterie',
  hv: 'hv hvdc hochvolt tractive ts highvoltage',
  lv: 'lv aux auxiliary accessory ancillary lead leadacid kl30 bordnetz starter starterbatterie lowvoltage lvs glv servitude niederspannung niedervolt',
  bms: 'bms bmu bcu batterymanagement',
  cell: 'cell cells zelle zellen zell cellule cellules c z',
  module: 'module modules m mod mdl modul brick block blk slave cmu csc bloc',
  box: 'box boxes bank string pk substring kiste',
  inverter:
    'inverter inv mcu controller mc motorcontroller umrichter wechselrichter onduleur igbt heatsink powerstage pim',
  motor: 'motor mot mtr em emotor machine stator winding moteur maschine',
  dcdc: 'dcdc converter wandler',
  charger: 'charger obc chgr onboardcharger lader ladegerät chargeur ladeg',
  heater: 'heater ptc heating heizung heizer chauffage heizleistung hvh',
  cooler:
    'compressor aircon airconditioning klima klimakompressor kompressor compresseur climatisation clim eac',
  ambient:
    'ambient outside outdoor exterior external umgebung umgebungs aussen außen extérieur extérieure ambiante oat',
  cabin: 'cabin interior room inside innenraum innen kabine fahrgastraum habitacle intérieur intérieure',
  fan: 'fan fans lüfter ventilator ventilateur gebläse blower',
  flow: 'flow flowrate durchfluss durchflussmenge débit volumenstrom volume',
  cruise: 'cruise cruisecontrol tempomat régulateur',
  hold: 'hold creep creeping creepmode kriechen rampement',
  slope: 'hill slope berg pente',
  pilot: 'pilot cp controlpilot pilote',
  proximity: 'proximity pp proximité',
  lock: 'lock locked latch latched locking verriegelt verriegelung verrouillage verrouillé',
  mains: 'mains grid netz netzspannung netzstrom acin secteur réseau wallbox ac',
  odometer: 'odometer odo kilometerstand kilométrage mileage kmstand odomètre compteurkm',
  coolant:
    'coolant cool cooling water glycol kühlmittel kühlwasser wasser fluid loop refroidissement eau clt',
  vehicle: 'vehicle veh car vhcl road gps fahrzeug véhicule vss ground',
  wheel: 'wheel whl wheels rad roue wss',
  pedal:
    'pedal accelerator accel acc apps app tps throttle gas pps fahrpedal gaspedal accélérateur thr thrott fp pédale',
  brake: 'brake brk brakes bremse brems bremspedal frein freins freinage bremsdruck',
  link: 'link dclink dcbus bus zwischenkreis zk capacitor cap busvoltage',
  dc: 'dc',
  phase: 'phase ph ac rms iq iphase',
  fl: 'fl lf vl',
  fr: 'fr rf vr',
  rl: 'rl lr hl',
  rr: 'rr hr',
  front: 'front fr f vorn vorne va frontaxle avant',
  rear: 'rear rr back r hinten ha arrière',
  // what
  voltage: 'voltage volt volts v u spannung tension vdc vlt',
  current: 'current curr cur i amp amps ampere strom courant idc crnt',
  power: 'power pwr leistung puissance',
  temperature: 'temperature temperatures temp temps tmp t temperatur température',
  resistance: 'resistance res resist r ri ir dcir impedance rint widerstand résistance',
  insulation:
    'iso isolation insulation isol insul riso imd ir leakage isolement isolationswiderstand iso-r isowiderstand isolations isolationsw',
  pressure: 'pressure press pres prs p druck pression',
  torque: 'torque trq tq torq moment drehmoment couple m md',
  shunt: 'shunt messshunt',
  speed: 'speed spd velocity vel geschwindigkeit tempo vitesse v kmh',
  rpm: 'rpm drehzahl revs rev n régime',
  acceleration: 'acceleration accel acc ax longacc beschleunigung accx axle-acc',
  gradient: 'gradient slope grade incline steigung pente',
  soc: 'soc stateofcharge ladezustand usoc',
  travel: 'travel stroke position pos pct percent percentage weg pos. level stellung',
  limit: 'limit lim limits allowed available avail permitted maximum max grenze limite allow perm',
  number: 'number no nr num idx index id nummer numéro',
  state: 'state status mode stat st fsm zustand état statemachine',
  faults:
    'fault faults error errors err errs dtc alarm alarms flt fehler défaut failure flags trouble warnings',
  balancing:
    'balance balancing bal balancer bleed bleeding bleeder shunt shunting bypass balancieren équilibrage',
  key: 'key ign ignition kl15 klemme15 zündung zuendung contact t15 clamp15 keyswitch zündschloss',
  plug: 'plug plugged proximity pilot cable inlet connector socket stecker prise pp ladestecker evse',
  interlock: 'interlock hvil intlk ilk ilock hvinterlock',
  inertia: 'inertia crash impact crashsensor inertie',
  ready: 'ready rtd bereit prêt readytodrive fahrbereit fahrbereitschaft',
  accelerator: 'accelerator accel app apps tps throttle gas pps fahrpedal gaspedal accélérateur thr thrott',
  selector:
    'selector gear shifter shift prnd fnr lever direction dir sel gearsel wählhebel gang fahrstufe prndl drivemode sélecteur selektor wählhebelstellung fahrtrichtung richtung ganghebel gangwahl gangwahlhebel wählhebelposition levier vitesses',
  lamp: 'lamp lamps light lights licht lampe lampen leuchte scheinwerfer feu feux voyant',
  reverse: 'reverse rev reversing backup rückfahr rückwärts rückwärtsgang recul',
  pump: 'pump pumpe wp pompe',
  contactor:
    'contactor contactors relay relays rly rel cont k ctr contactors schütz schuetz relais contacteur sch air ctct',
  precharge:
    'precharge prechg pre prech prechrg pchg vorladung vorlade vorladen précharge pchrg prchg vor vorl',
  positive: 'positive pos plus p hvp positiv positif',
  negative: 'negative neg minus n m hvn negativ négatif',
  main: 'main haupt principal hv',
  tractioncontrol: 'tc tcs asr tractioncontrol slipcontrol',
  traction: 'traction',
  abs: 'abs antilock',
  supply: 'supply sup vref ref vcc 5v versorgung speisung alimentation alim excitation',
  track:
    'track trk probe ntc thermistor fühler sonde channel chan ch sensor sens pot spur sig signal piste voie',
  switch: 'switch sw swt schalter contact interrupteur',
  // which way
  charge: 'charge chg charging chrg chrge lade laden recharge ch',
  discharge: 'discharge dis dch dchg disch dischg dschg discharging entlade entladen décharge dchrg',
  min: 'min minimum lowest low lo smallest lower kleinste vmin minimal',
  max: 'max maximum highest high hi greatest peak higher größte vmax hottest maximal',
  cold: 'coldest coolest cold',
  hot: 'hottest hot warmest',
  mean: 'mean avg average ave mittel mittelwert durchschnitt moyenne',
  total: 'total sum tot overall gesamt summe totale',
  in: 'in inlet input entering vorlauf ein eintritt entrée zulauf supplyside',
  out: 'out outlet output exit leaving rücklauf aus austritt sortie return ablauf',
  request:
    'request req demand command cmd target set setpoint soll desired commanded requested dem tgt sollwert consigne ordered anforderung angefordert',
  command: 'command cmd control ctrl req request drive out output coil set ansteuerung commande do',
  feedback: 'feedback fb fbk aux sense ack readback rückmeldung mirror di input retour',
  actual:
    'actual act ist measured meas est estimated real fb feedback istwert produced output current achieved mesuré',
  duty: 'duty pwm coil dutycycle tastverhältnis tastgrad ansteuergrad',
  on: 'on active activated act enable enabled en is engaged applied pressed closed close ok in present connected detected detect det state status open aktiv gedrückt fermé appuyé geschlossen aan lit',
  longitudinal: 'longitudinal long lon x längs',
  enable: 'enable enabled enabling',
}

/** Words that say nothing about which channel it is. */
const NOISE =
  'of the a an at for value val reading data log can measured meas calc calculated phys from bus1 signal sig sensor sens to and der die das de du la le des raw filtered filt filter sys system unit display ch0 hmi info msg main'

/** Words of things that are no channel of ours: a name with one keeps its own name. */
const FOREIGN =
  'hvac humidity seat mirror window wiper radio latitude longitude lat altitude alt elevation height höhe heading trip distance dist range energy kwh wh ah capacity soh health cycles cycle counter count crc checksum alive heartbeat version serial hours time uptime remaining eta setpoint2 oil gearbox transmission steering yaw roll pitch lateral latacc tyre tire satellites hdop fuel consumption efficiency delta diff difference deviation spread imbalance std stdev variance ocv estimated limit_reason derating derate accuracy button taste taster bouton knob slip schlupf glissement plausibility implausible implausibility plausibilität bspd preset dash dashboard screen page menu driver passenger heatercore exchanger defrost vent footwell evaporator battery-age board pcb mcu-temp cpu chip reference spare reserved unused dummy gyro camber rssi wifi rain washer horn indicator door boot regen'

export interface Vocabulary {
  /** Meanings of a word; undefined where the word is not known. */
  readonly meanings: ReadonlyMap<string, readonly string[]>
  readonly noise: ReadonlySet<string>
  readonly foreign: ReadonlySet<string>
}

/** `zündung` → `zundung`, `zuendung`: many boxes write plain letters only. */
function plainLetters(word: string): string[] {
  const bare = word.normalize('NFD').replace(/\p{M}/gu, '')
  return bare === word ? [] : [bare, word.replace(/[äöü]/g, (sign) => `${sign.normalize('NFD')[0]}e`)]
}

function build(): Vocabulary {
  const meanings = new Map<string, string[]>()
  for (const [meaning, words] of Object.entries(MEANINGS))
    for (const word of new Set(words.split(' '))) {
      for (const spelling of new Set([word, ...plainLetters(word)])) {
        const known = meanings.get(spelling)
        if (known) known.push(meaning)
        else meanings.set(spelling, [meaning])
      }
    }
  return { meanings, noise: new Set(NOISE.split(' ')), foreign: new Set(FOREIGN.split(' ')) }
}

export const VOCABULARY: Vocabulary = build()

/**
 * The words of column names, by what they mean: one line a meaning, all spellings after it. A word may stand on
 * several lines (`pos`: positive or position); the rules of `channel-names.ts` decide which reading explains the name.
 * English first, then abbreviations, then German and French, then Spanish, Italian, Portuguese, Dutch and Scandinavian,
 * Czech, Finnish, Hungarian, Turkish
 * workshop words and some Polish. Common practice, no source.
 */
const MEANINGS: Readonly<Record<string, string>> = {
  // where
  pack: 'pack batt battery bat batteries hvbatt hvb accumulator accu ess ress akku batterie traktionsbatterie hochvoltbatterie paquete pacco pacote accupakket accupack batería bateria batteria batteri batteripack pakke pakket pakiet baterii bateri baterie baterky akumulátor akumulátoru akumulator akun akusto akuston akkumulátor akkumulátoros batarya',
  hv: 'hv hvdc hochvolt tractive ts highvoltage hoogspanning högspänning høyspenning højspænding',
  lv: 'lv aux auxiliary accessory ancillary lead bordnetz starter starterbatterie lowvoltage lvs glv servitude niederspannung niedervolt auxiliar ausiliaria ausiliare hulpaccu hjälpbatteri hjelpebatteri boordnet',
  bms: 'bms bmu bcu batterymanagement',
  cell: 'cell cells zelle zellen zell cellule cellules c z celda celdas célula cella celle celler cellen ogniwo ogniwa článek článku články kenno kennon cellák hücre',
  module:
    'module modules m mod mdl modul brick block blk slave cmu csc bloc módulo módulos modulo moduli moduł modułu moduuli moduulin modulu modulů',
  box: 'box boxes bank string pk substring kiste caja scatola doos låda caixa',
  inverter:
    'inverter inv mcu controller mc umrichter wechselrichter onduleur igbt heatsink powerstage pim inversor inverterens omvormer växelriktare vekselretter omformer falownik falownika měnič měniče invertor taajuusmuuttaja invertteri invertterin',
  motor:
    'motor mot mtr em emotor machine stator winding moteur maschine motore motoren motora silnik silnika motoru moottori moottorin',
  dcdc: 'dcdc converter wandler',
  charger:
    'charger obc chgr lader ladegerät chargeur ladeg cargador caricatore carregador caricabatterie laddare ładowarka nabíječka nabíječky laturi laturin ładowarki',
  heater:
    'heater ptc heating heizung heizer chauffage heizleistung hvh calefactor calefacción riscaldatore riscaldamento aquecedor aquecimento verwarming värmare varmer varmeapparat topení lämmitin lämmitys nagrzewnica nagrzewnicy ogrzewanie',
  cooler: 'compressor aircon klima klimakompressor kompressor compresseur climatisation clim eac',
  ambient:
    'ambient outside outdoor exterior external umgebung umgebungs aussen außen extérieur extérieure ambiante oat ambiente esterna esterno buiten utomhus udendørs okolí venkovní ulkolämpötila ulko otoczenia zewnętrzna',
  cabin:
    'cabin interior room inside innenraum innen kabine fahrgastraum habitacle intérieur intérieure habitáculo cabina abitacolo interieur kupé kabin kupe kabiny sisätila',
  fan: 'fan fans lüfter ventilator ventilateur gebläse blower ventilador ventola ventoinha fläkt vifte blæser ventilátor wentylator tuuletin puhallin',
  flow: 'flow flowrate durchfluss durchflussmenge débit volumenstrom volume caudal portata flöde strømning debiet',
  cruise: 'cruise tempomat régulateur',
  hold: 'hold creep creeping creepmode kriechen rampement kruip krypning',
  slope: 'hill slope berg pente cuesta salita pendiente helling backe bakke mäki',
  pilot: 'pilot cp pilote',
  proximity: 'proximity pp proximité',
  lock: 'lock locked latch latched locking verriegelt verriegelung verrouillage verrouillé bloqueo blocco bloqueio vergrendeling lås',
  mains:
    'mains grid netz netzspannung netzstrom acin secteur réseau wallbox ac red rete rede lichtnet nät nett',
  odometer:
    'odometer odo kilométrage mileage odomètre compteurkm cuentakilómetros contachilometri odómetro kilometerteller kilometertæller mätarställning',
  coolant:
    'coolant cool cooling water glycol kühlmittel kühlwasser wasser fluid loop refroidissement eau clt refrigerante refrigeración raffreddamento arrefecimento koelvloeistof koelwater koeling kylvätska kylvatten kylning kjølevæske kølevæske kølevand kølemiddel agua acqua água chłodziwo voda vody chladivo chladiva chladicí jäähdytys jäähdytysneste jäähdytysnesteen vesi chłodziwa cieczy',
  vehicle:
    'vehicle veh car vhcl road gps fahrzeug véhicule vss ground vehículo veicolo veículo auto voertuig fordon kjøretøy køretøj pojazd vozidlo vozidla ajoneuvo ajoneuvon pojazdu',
  wheel: 'wheel whl wheels rad roue wss rueda ruota roda wiel hjul koło kola pyörä pyörän',
  pedal:
    'pedal accelerator accel acc apps app tps throttle gas pps fahrpedal gaspedal accélérateur thr thrott fp pédale acelerador acceleratore gaspedaal speeder gasspedal pedale pedaal pedał pedál pedálu kaasupoljin kaasupolkimen poljin gázpedál',
  brake:
    'brake brk brakes bremse brems bremspedal frein freins freinage bremsdruck freno freni freio travão rem remmen remdruk rempedaal broms bromsen bromstryck bromspedal bremsetrykk bremsetryk hamulec hamulca brzda brzdy brzd brzdový brzdová brzdového jarru jarrun jarrupoljin hamulcowy hamulców fren',
  link: 'link dclink bus zwischenkreis zk capacitor cap busvoltage enlace tussenkring mellanled mellomkrets mellemkreds barramento szyny szyna meziobvod meziobvodu välipiiri välipiirin sběrnice',
  vdc: 'vdc',
  dc: 'dc cc ss',
  phase: 'phase ph ac rms iq iphase fase fas faza',
  fl: 'fl lf vl',
  fr: 'fr rf vr',
  rl: 'rl lr hl',
  rr: 'rr hr',
  front: 'front fr f vorn vorne va frontaxle avant delantero delantera anteriore dianteiro voor främre foran',
  rear: 'rear rr back r hinten ha arrière trasero trasera posteriore traseiro achter bakre bagest',
  // what
  voltage:
    'voltage volt volts v u spannung tension vdc vlt tensión tensione tensão voltaje voltaggio spanning spänning spenning spænding napięcie napětí jännite jännitteen napięcia feszültség gerilim',
  current:
    'current curr cur i amp amps ampere strom courant idc crnt corriente corrente stroom ström strøm prąd proud proudu virta virran prądu akım',
  power: 'power pwr leistung puissance potencia potenza potência vermogen effekt moc výkon teho mocy',
  temperature:
    'temperature temperatures temp temps tmp t temperatur température temperatura temperatuur teplota teploty lämpötila lämpötilan temperatury hőmérséklet sıcaklık sıcaklığı',
  resistance:
    'resistance res resist r ri ir dcir impedance rint widerstand résistance resistencia resistenza resistência weerstand motstånd motstand modstand rezystancja odpor vastus resistanssi opór rezystancji',
  insulation:
    'iso isolation insulation isol insul riso imd ir leakage isolement isolationswiderstand isowiderstand isolations isolationsw aislamiento isolamento isolatie isolasjon isolering isolationsmotstånd isolatieweerstand izolacja izolacji izolační izolace eristys eristysvastus isolasjonsmotstand szigetelés izolasyon',
  pressure:
    'pressure press pres prs p druck pression presión pressione pressão druk remdruk tryck trykk tryk bromstryck bremsetrykk bremsetryk ciśnienie tlak tlaku paine jarrupaine nyomás basınç basıncı',
  torque:
    'torque trq tq torq moment drehmoment couple m md par coppia binário koppel vridmoment dreiemoment drejningsmoment momentu kroutící točivý vääntömomentti vääntö momentti nyomaték tork',
  shunt: 'shunt messshunt',
  speed:
    'speed spd velocity vel geschwindigkeit tempo vitesse v kmh velocidad velocità velocidade snelheid rijsnelheid hastighet hastighed prędkość rychlost rychlosti nopeus ajonopeus prędkości sebesség hız',
  rpm: 'rpm drehzahl revs rev n régime régimen revoluciones giri rotação rotações toerental varvtal turtall omdrejninger omdrejningstal obroty otáčky otáček kierrosluku kierrosnopeus obrotów fordulatszám devir',
  acceleration:
    'acceleration accel acc ax longacc beschleunigung accx aceleración accelerazione aceleração versnelling akselerasjon przyspieszenie',
  gradient:
    'gradient slope grade incline steigung pente pendiente pendenza inclinação helling lutning stigning',
  soc: 'soc ladezustand usoc laadtoestand laddningstillstånd ladetilstand ladningstilstand laddningsgrad ladegrad laadniveau varaustila',
  travel:
    'travel stroke position pos pct percent percentage weg level stellung posición posizione posição positie läge stilling carrera corsa curso slag stand poloha asento położenie pozycja',
  limit:
    'limit lim limits allowed available avail permitted maximum max grenze limite allow perm límite grens gräns grense grænse permitida permitido ammessa ammesso toegestaan tillåten tilladt raja limitti',
  number: 'number no nr num idx index id nummer numéro número numero číslo numer',
  state:
    'state status mode stat st fsm zustand état statemachine estado stato toestand tillstånd tilstand stav tila stan',
  faults:
    'fault faults error errors err errs dtc alarm alarms flt fehler défaut failure flags trouble warnings fallo fallos falla guasto guasti falha falhas avería fout fouten storing fel feil fejl błąd błędy chyba chyby porucha vika vikakoodi vikakoodit usterka',
  balancing:
    'balance balancing bal balancer bleed bleeding bleeder shunt shunting bypass balancieren équilibrage balanceo equilibrado bilanciamento balanceamento balanceren balansering balancování balansointi tasaus balansowanie',
  key: 'key quadro ign ignition zündung zuendung contact keyswitch zündschloss llave chiave chave contacto sleutel contactslot nyckel tändning nøkkel tenning nøgle tænding kluczyk klíček klíčku zapalování avain avaimen stacyjka zapłon',
  plug: 'plug plugged proximity pilot cable inlet connector socket stecker prise pp ladestecker evse enchufe spina ficha stekker kontakt stik laddkontakt ladestik zástrčka zásuvka pistoke latauspistoke wtyczka gniazdo',
  interlock: 'interlock hvil intlk ilk ilock hvinterlock enclavamiento interblocco vzájemné',
  inertia:
    'inertia crash impact crashsensor inertie inercia inerziale inerzia inércia choque urto botssensor',
  ready:
    'ready rtd bereit prêt fahrbereit fahrbereitschaft listo pronto gereed rijklaar redo klar körklar připraveno připraven ajovalmis valmius valmis gotowy gotowość hazır',
  accelerator:
    'accelerator accel app apps tps throttle gas pps fahrpedal gaspedal accélérateur thr thrott acelerador acceleratore gaspedaal speeder gasspedal',
  selector:
    'selector gear shifter shift prnd fnr lever direction dir sel gearsel wählhebel gang fahrstufe prndl drivemode sélecteur selektor wählhebelstellung fahrtrichtung richtung ganghebel gangwahl gangwahlhebel wählhebelposition levier vitesses selettore seletor marcha marcia palanca leva schakelaarstand rijstand växelväljare växelspak girvelger gearvælger keuzehendel volič páka valitsin vaihteenvalitsin ajosuunta wybierak dźwignia',
  lamp: 'lamp lamps light lights licht lampe lampen leuchte scheinwerfer feu feux voyant luz luces luce luci lámpara lampada lampa ljus lys lampje světlo světla valo światło',
  reverse:
    'reverse rev reversing backup rückfahr rückwärts rückwärtsgang recul reversa retromarcia ré achteruit back bakåt revers bak zpátečka couvání peruutus wsteczny',
  pump: 'pump pumpe wp pompe bomba pomp pumpen pompa čerpadlo pumppu',
  contactor:
    'contactor contactors relay relays rly rel cont k ctr contactors schütz schuetz relais contacteur sch air ctct contattore contator teleruttore relé relè magneetschakelaar kontaktor kontaktoren kontaktorer stycznik przekaźnik stykač stykače kontaktori stycznika kontaktör',
  precharge:
    'precharge prechg pre prech prechrg pchg vorladung vorlade vorladen précharge pchrg prchg vor vorl precarga precarica précarga voorlading voorlaad voorladen förladdning förladdnings forlading forladning forlade předbíjení přednabíjení přednabití esilataus előtöltés',
  positive:
    'positive pos plus p hvp positiv positif positivo positiva positief kladný kladná positiivinen dodatni',
  negative:
    'negative neg minus n m hvn negativ négatif negativo negativa negatief záporný záporná miinus mínus negatiivinen ujemny',
  main: 'main haupt principal hv principale hoofd huvud hoved hlavní pää główny',
  tractioncontrol: 'tc tcs asr',
  traction: 'traction',
  abs: 'abs',
  supply:
    'supply sup vref ref vcc versorgung speisung alimentation alim excitation alimentación alimentazione alimentação voeding matning forsyning napájení syöttö zasilanie zasilania',
  track:
    'track trk probe ntc thermistor fühler sonde channel chan ch sensor sens pot spur sig signal piste voie sonda sensore voeler føler givare pista canale canal kanaal kanal spår dráha dráhy rata ścieżka ścieżki',
  switch:
    'switch sw swt schalter contact interrupteur interruptor interruttore schakelaar brytare strömbrytare bryter afbryder spínač kytkin włącznik wyłącznik przełącznik',
  // which way
  charge:
    'charge chg charging chrg chrge lade laden recharge ch carga carica laad laddning laddnings lading ladning oplading ładowanie nabíjení nabíjecí lataus latauksen ładowania',
  discharge:
    'discharge dis dch dchg disch dischg dschg discharging entlade entladen décharge dchrg descarga scarica ontladen ontlaad urladdning utlading afladning aflading rozładowanie vybíjení purku rozładowania',
  min: 'min minimum lowest low lo smallest lower kleinste vmin minimal mínima mínimo minima minimo mín laagste minste lägsta laveste minst nejnižší pienin matalin najniższa najniższe',
  max: 'max maximum highest high hi greatest peak higher größte vmax hottest maximal máxima máximo massima massimo máx hoogste grootste högsta højeste høyeste störst nejvyšší suurin korkein najwyższa najwyższe',
  cold: 'coldest coolest cold',
  hot: 'hottest hot warmest',
  mean: 'mean avg average ave mittel mittelwert durchschnitt moyenne media medio média médio gemiddeld gemiddelde medel medelvärde gjennomsnitt gennemsnit middel średnia průměr průměrná keskiarvo',
  total:
    'total sum tot overall gesamt summe totale totaal totalt suma somma soma celkové celkový celkem kokonais całkowite',
  in: 'in inlet input entering vorlauf ein eintritt entrée zulauf supplyside entrada ingresso inn ind intag inlopp inløb innløp mandata vstup vstupní tulo wlot wejście',
  out: 'out outlet output exit leaving rücklauf aus austritt sortie return ablauf salida uscita saída uit ut utlopp utløp udløb ud výstup výstupní paluu lähtö wylot wyjście',
  request:
    'request req demand command cmd target set setpoint soll desired commanded requested dem tgt sollwert consigne ordered anforderung angefordert solicitado solicitada pedido pedida demandado demandada consigna richiesto richiesta requisitado gevraagd gewenst begärt begärd begäran önskat forespurt ønsket anmodet požadovaný požadovaná požadavek pyyntö pyydetty tavoite zadany zadana żądany',
  command:
    'command cmd control ctrl req request drive out output coil set ansteuerung commande do mando comando orden aansturing styrning styring',
  feedback:
    'feedback fb fbk aux sense ack readback rückmeldung mirror di input retour realimentación retorno terugmelding återkoppling tilbakemelding tilbagemelding',
  actual:
    'actual act ist measured meas est estimated real fb feedback istwert produced output current achieved mesuré effettiva effettivo reale werkelijk gemeten verklig uppmätt faktisk målt medido medida misurata misurato rzeczywisty skutečný skutečná skutečné todellinen mitattu rzeczywista',
  duty: 'duty pwm coil tastverhältnis tastgrad ansteuergrad',
  on: 'on active activated act enable enabled en is engaged applied pressed closed close ok in present connected detected detect det state status open aktiv gedrückt fermé appuyé geschlossen aan lit pisado pulsado apretado accionado activo activa activado encendido cerrado premuto attivo chiuso acceso pressionado ligado fechado ingedrukt actief gesloten nedtryckt stängd sluten lukket trykket inkoblet sepnuto sepnutý zapnuto kiinni päällä zamknięty włączony',
  longitudinal: 'longitudinal long lon x längs',
  enable: 'enable enabled enabling habilitado habilitación abilitazione abilitato vrijgave frigivelse',
}

/** Words that say nothing about which channel it is. */
const NOISE =
  'of the a an at for value val reading data log can measured meas calc calculated phys from bus1 signal sig sensor sens to and der die das de du la le des raw filtered filt filter sys system unit display ch0 hmi info msg main dos del della dello dei delle degli op van het og och av ja til ve jazdy y ke'

/** Words of things that are no channel of ours: a name with one keeps its own name. */
const FOREIGN =
  'hvac humidity seat mirror window wiper radio latitude longitude lat altitude alt elevation height höhe heading trip distance dist range energy kwh wh ah capacity soh health cycles cycle counter count crc checksum alive heartbeat version serial hours time uptime remaining eta setpoint2 oil gearbox transmission steering yaw roll pitch lateral latacc tyre tire satellites hdop fuel consumption efficiency delta diff difference deviation spread imbalance std stdev variance ocv estimated limit_reason derating derate accuracy button taste taster bouton knob slip schlupf glissement plausibility implausible implausibility plausibilität bspd preset dash dashboard screen page menu driver passenger heatercore exchanger defrost vent footwell evaporator battery-age board pcb mcu-temp cpu chip reference spare reserved unused dummy gyro camber rssi wifi rain washer horn indicator door boot regen autonomía autonomie autonomia reichweite actieradius räckvidd rekkevidde rækkevidde zasięg energía energia energie energi map maps vacuum unterdruck vuoto vacío booster parking handbrake handbremse feststellbremse parkbremse wear pads done complete completed finished fertig timeout start crank'

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

import { DC_LINK, INERTIA, INSIDE_BOX, LOCAL_RULES, OUTSIDE_BOX } from './cautions.ts'

/** One thing to look at when a step is suspected. Effort 1 (a look) … 5 (a box opened). */
export interface StepCheck {
  readonly what: string
  readonly instrument: string
  readonly expect: string
  readonly tells: string
  readonly cautions: readonly string[]
  readonly effort: 1 | 2 | 3 | 4 | 5
}

/** A step of the start chain, as a workshop thinks of it. */
export interface StepDeclaration {
  readonly name: string
  readonly label: string
  /** Channels that show it, best first. */
  readonly channels: readonly string[]
  /** How it is judged, in words. */
  readonly judged: string
  /**
   * `condition` must hold for others to follow; `effect` is something the car does once its conditions hold.
   */
  readonly role: 'condition' | 'effect'
  /** Steps that must hold before this one can. */
  readonly needs: readonly string[]
  /** What it usually means when broken. */
  readonly means: string
  readonly checks: readonly StepCheck[]
  /** For steps added by the vehicle file: held when the channel has this value. */
  readonly heldWhen?: number
}

const METER = 'multimeter'
const CONDITIONS = ['supply', 'key', 'plug', 'interlock', 'inertia', 'battery', 'isolation']

/** The start chain in its usual order. What each step means and how it is checked: common practice, no source. */
export const START_CHAIN: readonly StepDeclaration[] = [
  {
    name: 'supply',
    label: '12 V supply',
    channels: ['lv_voltage'],
    judged:
      'the median 12 V reading of the attempt is above the limit, and it does not collapse when a coil pulls in',
    role: 'condition',
    needs: [],
    means: 'a flat 12 V battery, a poor earth or feed, or a blown fuse of the control supply',
    checks: [
      {
        what: '12 V battery at its posts with the key on, then at the battery unit’s own supply and earth pins',
        instrument: METER,
        expect: 'above 12 V at the posts and within 0.3 V of that at the unit',
        tells: 'low at the posts: the battery or its charging; low only at the unit: fuse, feed or earth',
        cautions: [],
        effort: 1,
      },
    ],
  },
  {
    name: 'key',
    label: 'key',
    channels: ['key_on'],
    judged: 'the key signal is on and stays on',
    role: 'condition',
    needs: ['supply'],
    means: 'the key switch, its relay or its wire',
    checks: [
      {
        what: 'key signal at the control unit’s pin while the key is turned',
        instrument: METER,
        expect: 'supply voltage with the key on, steady when the key is wiggled',
        tells: 'no or unsteady voltage: switch, relay or wire; steady: the unit or its input',
        cautions: [],
        effort: 2,
      },
    ],
  },
  {
    name: 'plug',
    label: 'charge plug out',
    channels: ['charge_plug'],
    judged: 'the charge plug signal says out',
    role: 'condition',
    needs: [],
    means: 'the plug is in, or its detection contact or wire says so',
    checks: [
      {
        what: 'charge inlet: plug out, flap and detection contact clean and dry',
        instrument: 'eyes and torch',
        expect: 'nothing in the inlet, contacts straight and dry',
        tells:
          'plug in: remove it and note whether the signal follows; plug out and signal still in: detection contact or wire',
        cautions: [],
        effort: 1,
      },
    ],
  },
  {
    name: 'interlock',
    label: 'interlock loop',
    channels: ['interlock_closed'],
    judged: 'the interlock loop stays closed through the attempt',
    role: 'condition',
    needs: ['supply'],
    means: 'a high-voltage connector, cover or service plug not fully home, or a broken loop wire',
    checks: [
      {
        what: 'every connector, cover and service plug that the interlock loop runs through: latched and fully home',
        instrument: 'eyes, loop drawing',
        expect: 'all latches home, no cover loose',
        tells: 'a part not home is the likely break',
        cautions: [OUTSIDE_BOX],
        effort: 1,
      },
      {
        what: 'loop resistance from connector to connector with the loop’s supply off, halving the loop each time',
        instrument: METER,
        expect: 'a few ohms at most through each half, steady when the harness is moved',
        tells: 'the half that reads open holds the break',
        cautions: [OUTSIDE_BOX, 'Do not bridge the loop.'],
        effort: 3,
      },
    ],
  },
  {
    name: 'inertia',
    label: 'inertia switch',
    channels: ['inertia_closed'],
    judged: 'the inertia switch stays closed through the attempt',
    role: 'condition',
    needs: ['supply'],
    means: 'the switch has tripped (a knock, a kerb, loose mounting) or its wire is broken',
    checks: [
      {
        what: 'inertia switch: its indicator, mounting and connector; ask what happened before',
        instrument: 'eyes, the driver',
        expect: 'not tripped, firmly mounted, connector home',
        tells: 'tripped: find the cause first; not tripped: wire or connector',
        cautions: [INERTIA],
        effort: 1,
      },
      {
        what: 'voltage on both sides of the switch with the key on',
        instrument: METER,
        expect: 'the same on both sides',
        tells: 'only one side live: the switch is open; neither: the feed before it',
        cautions: [INERTIA],
        effort: 2,
      },
    ],
  },
  {
    name: 'battery',
    label: 'battery unit content',
    channels: ['bms_state', 'bms_faults', 'discharge_limit', 'lowest_cell_voltage', 'coldest_temperature'],
    judged:
      'its state is not a fault, no fault bit comes up before the chain falls, its discharge limit is above zero',
    role: 'condition',
    needs: ['supply', 'key'],
    means:
      'a cell voltage or temperature outside its limits, a lost sense lead or sensor, or a fault kept from before',
    checks: [
      {
        what: 'the battery unit’s own fault list and cell readings, read and written down before anything is changed',
        instrument: 'the maker’s reading tool or display',
        expect: 'no active fault; all cells and temperatures plausible',
        tells: 'names the cell, sensor or limit that holds the unit back',
        cautions: ['Write faults down; do not clear them to see.', INSIDE_BOX],
        effort: 2,
      },
    ],
  },
  {
    name: 'isolation',
    label: 'isolation',
    channels: ['isolation_resistance'],
    judged: 'the settled isolation reading is above the limit in Ω/V',
    role: 'condition',
    needs: ['supply'],
    means: 'moisture, a chafed high-voltage cable, coolant in a box, or a faulty consumer',
    checks: [
      {
        what: 'high-voltage cables, connectors and boxes outside: wet, chafed, crushed, coolant traces',
        instrument: 'eyes and torch',
        expect: 'dry and whole',
        tells: 'a damp or chafed place is the first suspect',
        cautions: [
          OUTSIDE_BOX,
          'No insulation tester on connected electronics. Do not bridge the isolation monitor.',
        ],
        effort: 2,
      },
    ],
  },
  {
    name: 'negative',
    label: 'negative contactor',
    channels: [
      'contactor_negative_feedback',
      'contactor_negative',
      'contactor_negative_command',
      'bms_state',
    ],
    judged: 'the negative contactor is seen closed',
    role: 'effect',
    needs: CONDITIONS,
    means: 'the battery unit did not ask for it, or its coil, driver, wire or feedback contact is at fault',
    checks: [
      {
        what: 'coil voltage of the negative contactor at the box connector while the key is turned on',
        instrument: METER,
        expect: 'about supply voltage for a moment, then the holding level',
        tells:
          'voltage and no click: coil or contactor; no voltage: the unit is not asking, or wire and driver',
        cautions: [OUTSIDE_BOX, INSIDE_BOX],
        effort: 3,
      },
    ],
  },
  {
    name: 'precharge',
    label: 'precharge',
    channels: [
      'link_voltage',
      'pack_voltage',
      'contactor_precharge_feedback',
      'contactor_precharge',
      'contactor_precharge_command',
      'bms_state',
    ],
    judged: 'the link voltage rises to the ready percent of pack voltage',
    role: 'effect',
    needs: [...CONDITIONS, 'negative'],
    means: 'a load left across the link, an open resistor, fuse or precharge contactor, or a shorted link',
    checks: [
      {
        what: 'consumers on the link (heater, DC-DC, air-conditioning): which of them can be switched on during start',
        instrument: 'wiring drawing',
        expect: 'none draws before drive ready',
        tells: 'a consumer left on holds the link below the ready percent',
        cautions: [],
        effort: 1,
      },
      {
        what: 'resistance across the link with the pack isolated and the link proved dead, consumers unplugged one by one',
        instrument: METER,
        expect: 'the bleed resistor’s value once the reading has settled',
        tells:
          'a low reading that goes away with one consumer names it; one that stays points at the inverter',
        cautions: [DC_LINK, OUTSIDE_BOX],
        effort: 4,
      },
      {
        what: 'precharge resistor and its fuse, isolated and proved dead',
        instrument: METER,
        expect: 'the vehicle file’s resistance',
        tells: 'open: resistor or fuse; right: the precharge contactor or its coil wire',
        cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
        effort: 4,
      },
    ],
  },
  {
    name: 'positive',
    label: 'positive contactor',
    channels: [
      'contactor_positive_feedback',
      'contactor_positive',
      'contactor_positive_command',
      'bms_state',
    ],
    judged: 'the positive contactor is seen closed once the link is up',
    role: 'effect',
    needs: [...CONDITIONS, 'negative', 'precharge'],
    means:
      'the battery unit saw the link as not ready, or coil, driver, wire or feedback contact is at fault',
    checks: [
      {
        what: 'coil voltage of the positive contactor at the box connector at the moment the link is up',
        instrument: METER,
        expect: 'about supply voltage for a moment, then the holding level',
        tells:
          'voltage and no click: coil or contactor; no voltage: the unit does not see the link as ready, or wire and driver',
        cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
        effort: 3,
      },
    ],
  },
  {
    name: 'inverter',
    label: 'inverter powered',
    channels: ['inverter_state', 'inverter_faults'],
    judged: 'the inverter’s state is powered, ready or drive',
    role: 'effect',
    needs: ['supply', 'key', 'positive'],
    means: 'its 12 V supply or enable wire, a fault it keeps, or a lost bus connection',
    checks: [
      {
        what: 'inverter’s 12 V supply, earth and enable pins with the key on; its fault list',
        instrument: `${METER}, the maker’s reading tool`,
        expect: 'supply within 0.3 V of the battery, enable on, no active fault',
        tells: 'a missing supply or enable names the wire; a fault code names the inverter’s reason',
        cautions: ['Write faults down; do not clear them to see.', DC_LINK],
        effort: 2,
      },
    ],
  },
  {
    name: 'brake',
    label: 'brake pressed',
    channels: ['brake_switch', 'brake_pressure', 'brake_pressure_front', 'brake_travel'],
    judged: 'the brake is seen pressed before drive ready',
    role: 'condition',
    needs: ['key'],
    means: 'the pedal was not pressed, or the brake switch or its adjustment is at fault',
    checks: [
      {
        what: 'brake switch signal while the pedal is pressed, and the brake lamps',
        instrument: METER,
        expect: 'changes within the first centimetre of pedal travel',
        tells:
          'lamps on and no signal: wire to the control unit; no lamps: switch, its adjustment or its fuse',
        cautions: [],
        effort: 1,
      },
    ],
  },
  {
    name: 'selector',
    label: 'selector in neutral',
    channels: ['selector'],
    judged: 'the selector is in neutral while the car waits to become ready',
    role: 'condition',
    needs: ['key'],
    means: 'the selector was left in gear, or its signal is stuck',
    checks: [
      {
        what: 'selector moved through its positions with the signal watched',
        instrument: 'the display or a reading tool',
        expect: 'the signal follows every position',
        tells: 'it follows: the selector was in gear; it does not: selector or wire',
        cautions: ['Wheels chocked, parking brake on.'],
        effort: 1,
      },
    ],
  },
  {
    name: 'pedal',
    label: 'accelerator released and valid',
    channels: ['pedal_position', 'pedal_track_1', 'pedal_track_2'],
    judged:
      'the accelerator reads released while the car waits to become ready, both tracks inside their valid range',
    role: 'condition',
    needs: ['key'],
    means: 'a mat or stop holds the pedal, or a track’s supply, earth or wire is at fault',
    checks: [
      {
        what: 'accelerator: free to return, connector home; both tracks’ voltages at rest',
        instrument: `eyes, ${METER}`,
        expect: 'the vehicle file’s released voltages',
        tells: 'held by a mat: mechanical; a track at 0 V or supply: wire or sensor',
        cautions: [],
        effort: 2,
      },
    ],
  },
  {
    name: 'ready',
    label: 'drive ready',
    channels: ['drive_ready', 'inverter_state'],
    judged: 'drive ready is on, or the inverter says ready or drive, or the car drives',
    role: 'effect',
    needs: [
      'supply',
      'key',
      'plug',
      'battery',
      'isolation',
      'positive',
      'inverter',
      'brake',
      'selector',
      'pedal',
    ],
    means: 'a condition that the log does not show: start button, gear position, a control unit’s own check',
    checks: [
      {
        what: 'the control unit’s list of conditions for drive ready, each read live: start button, brake, selector, pedal, inverter',
        instrument: 'the maker’s reading tool or display',
        expect: 'all met',
        tells: 'the one not met is the cause',
        cautions: [],
        effort: 2,
      },
    ],
  },
  {
    name: 'torque',
    label: 'torque follows',
    channels: ['torque', 'speed', 'motor_speed', 'torque_request', 'pedal_position'],
    judged: 'torque or movement follows when the pedal is pressed in gear',
    role: 'effect',
    needs: ['ready', 'selector', 'battery'],
    means: 'a limit at zero, an inverter that refuses, or a motor position sensor',
    checks: [
      {
        what: 'inverter’s fault list and limits; motor position sensor’s connector',
        instrument: 'the maker’s reading tool, eyes',
        expect: 'no active fault, limits above zero, connector home',
        tells: 'a fault or zero limit names the reason',
        cautions: ['Wheels chocked, driven wheels watched by a second person.', LOCAL_RULES],
        effort: 2,
      },
    ],
  },
]

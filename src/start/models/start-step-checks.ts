import type { Vehicle } from '../../../shared/vehicle.ts'
import { DC_LINK, INERTIA, INSIDE_BOX, LOCAL_RULES, OUTSIDE_BOX } from '../../facts/cautions.ts'

/** One thing to look at when a step is suspected. Effort 1 (a look) … 5 (a box opened). */
export interface StepCheck {
  readonly what: string
  readonly instrument: string
  readonly expect: string
  readonly tells: string
  readonly cautions: readonly string[]
  readonly effort: 1 | 2 | 3 | 4 | 5
  /** Words of the place where its reading is taken: a reading whose place holds them all answers it. */
  readonly place: string
  /** Unit of its reading, and whether that is as it should be; a check without is answered by any reading. */
  readonly reads?: {
    readonly unit: string
    readonly right: (value: number, vehicle: Vehicle) => boolean | null
  }
}

/** Below this a loop conducts, Ω. Common practice, no source. */
const LOOP_OHM = 10
/** A resistor within this of its stated value is whole. Common practice, no source. */
const RESISTOR_SHARE = 0.2
/** A 12 V battery that reads below this at its posts is flat or uncharged, V. Common practice, no source. */
const POSTS_V = 12

const METER = 'multimeter'

/** What to look at when a step is suspected, least effort first. Common practice, no source. */
export const START_CHECKS = {
  supply: [
    {
      what: '12 V battery at its posts with the key on, then at the battery unit’s own supply and earth pins',
      instrument: METER,
      expect: 'above 12 V at the posts and within 0.3 V of that at the unit',
      tells: 'low at the posts: the battery or its charging; low only at the unit: fuse, feed or earth',
      cautions: [],
      effort: 1,
      place: '12 V',
      reads: { unit: 'V', right: (volts) => volts >= POSTS_V },
    },
  ],
  key: [
    {
      what: 'key signal at the control unit’s pin while the key is turned',
      instrument: METER,
      expect: 'supply voltage with the key on, steady when the key is wiggled',
      tells: 'no or unsteady voltage: switch, relay or wire; steady: the unit or its input',
      cautions: [],
      effort: 2,
      place: 'key',
    },
  ],
  plug: [
    {
      what: 'charge inlet: plug out, flap and detection contact clean and dry',
      instrument: 'eyes and torch',
      expect: 'nothing in the inlet, contacts straight and dry',
      tells:
        'plug in: remove it and note whether the signal follows; plug out and signal still in: detection contact or wire',
      cautions: [],
      effort: 1,
      place: 'charge inlet',
    },
  ],
  interlock: [
    {
      what: 'every connector, cover and service plug that the interlock loop runs through: latched and fully home',
      instrument: 'eyes, loop drawing',
      expect: 'all latches home, no cover loose',
      tells: 'a part not home is the likely break',
      cautions: [OUTSIDE_BOX],
      effort: 1,
      place: 'interlock connectors',
    },
    {
      what: 'loop resistance from connector to connector with the loop’s supply off, halving the loop each time',
      instrument: METER,
      expect: 'a few ohms at most through each half, steady when the harness is moved',
      tells: 'the half that reads open holds the break',
      cautions: [OUTSIDE_BOX, 'Do not bridge the loop.'],
      effort: 3,
      place: 'interlock loop',
      reads: { unit: 'Ω', right: (ohm) => ohm < LOOP_OHM },
    },
  ],
  inertia: [
    {
      what: 'inertia switch: its indicator, mounting and connector; ask what happened before',
      instrument: 'eyes, the driver',
      expect: 'not tripped, firmly mounted, connector home',
      tells: 'tripped: find the cause first; not tripped: wire or connector',
      cautions: [INERTIA],
      effort: 1,
      place: 'inertia mounting',
    },
    {
      what: 'voltage on both sides of the switch with the key on',
      instrument: METER,
      expect: 'the same on both sides',
      tells: 'only one side live: the switch is open; neither: the feed before it',
      cautions: [INERTIA],
      effort: 2,
      place: 'inertia switch',
    },
  ],
  battery: [
    {
      what: 'the battery unit’s own fault list and cell readings, read and written down before anything is changed',
      instrument: 'the maker’s reading tool or display',
      expect: 'no active fault; all cells and temperatures plausible',
      tells: 'names the cell, sensor or limit that holds the unit back',
      cautions: ['Write faults down; do not clear them to see.', INSIDE_BOX],
      effort: 2,
      place: 'battery unit',
    },
  ],
  isolation: [
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
      place: 'isolation',
    },
  ],
  negative: [
    {
      what: 'coil voltage of the negative contactor at the box connector while the key is turned on',
      instrument: METER,
      expect: 'about supply voltage for a moment, then the holding level',
      tells:
        'voltage and no click: coil or contactor; no voltage: the unit is not asking, or wire and driver',
      cautions: [OUTSIDE_BOX, INSIDE_BOX],
      effort: 3,
      place: 'negative coil',
    },
  ],
  precharge: [
    {
      what: 'consumers on the link (heater, DC-DC, air-conditioning): which of them can be switched on during start',
      instrument: 'wiring drawing',
      expect: 'none draws before drive ready',
      tells: 'a consumer left on holds the link below the ready percent',
      cautions: [],
      effort: 1,
      place: 'consumers',
    },
    {
      what: 'resistance across the link with the pack isolated and the link proved dead, consumers unplugged one by one',
      instrument: METER,
      expect: 'the bleed resistor’s value once the reading has settled',
      tells: 'a low reading that goes away with one consumer names it; one that stays points at the inverter',
      cautions: [DC_LINK, OUTSIDE_BOX],
      effort: 4,
      place: 'link resistance',
    },
    {
      what: 'precharge resistor and its fuse, isolated and proved dead',
      instrument: METER,
      expect: 'the vehicle file’s resistance',
      tells: 'open: resistor or fuse; right: the precharge contactor or its coil wire',
      cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
      effort: 4,
      place: 'precharge resistor',
      reads: {
        unit: 'Ω',
        right: (ohm, { precharge }) =>
          precharge?.resistor_ohm === undefined
            ? null
            : Math.abs(ohm / precharge.resistor_ohm - 1) <= RESISTOR_SHARE,
      },
    },
  ],
  positive: [
    {
      what: 'coil voltage of the positive contactor at the box connector at the moment the link is up',
      instrument: METER,
      expect: 'about supply voltage for a moment, then the holding level',
      tells:
        'voltage and no click: coil or contactor; no voltage: the unit does not see the link as ready, or wire and driver',
      cautions: [DC_LINK, OUTSIDE_BOX, INSIDE_BOX],
      effort: 3,
      place: 'positive coil',
    },
  ],
  inverter: [
    {
      what: 'inverter’s 12 V supply, earth and enable pins with the key on; its fault list',
      instrument: `${METER}, the maker’s reading tool`,
      expect: 'supply within 0.3 V of the battery, enable on, no active fault',
      tells: 'a missing supply or enable names the wire; a fault code names the inverter’s reason',
      cautions: ['Write faults down; do not clear them to see.', DC_LINK],
      effort: 2,
      place: 'inverter supply',
    },
  ],
  brake: [
    {
      what: 'brake switch signal while the pedal is pressed, and the brake lamps',
      instrument: METER,
      expect: 'changes within the first centimetre of pedal travel',
      tells: 'lamps on and no signal: wire to the control unit; no lamps: switch, its adjustment or its fuse',
      cautions: [],
      effort: 1,
      place: 'brake switch',
    },
  ],
  selector: [
    {
      what: 'selector moved through its positions with the signal watched',
      instrument: 'the display or a reading tool',
      expect: 'the signal follows every position',
      tells: 'it follows: the selector was in gear; it does not: selector or wire',
      cautions: ['Wheels chocked, parking brake on.'],
      effort: 1,
      place: 'selector',
    },
  ],
  pedal: [
    {
      what: 'accelerator: free to return, connector home; both tracks’ voltages at rest',
      instrument: `eyes, ${METER}`,
      expect: 'the vehicle file’s released voltages',
      tells: 'held by a mat: mechanical; a track at 0 V or supply: wire or sensor',
      cautions: [],
      effort: 2,
      place: 'accelerator',
    },
  ],
  ready: [
    {
      what: 'the control unit’s list of conditions for drive ready, each read live: start button, brake, selector, pedal, inverter',
      instrument: 'the maker’s reading tool or display',
      expect: 'all met',
      tells: 'the one not met is the cause',
      cautions: [],
      effort: 2,
      place: 'ready conditions',
    },
  ],
  torque: [
    {
      what: 'inverter’s fault list and limits; motor position sensor’s connector',
      instrument: 'the maker’s reading tool, eyes',
      expect: 'no active fault, limits above zero, connector home',
      tells: 'a fault or zero limit names the reason',
      cautions: ['Wheels chocked, driven wheels watched by a second person.', LOCAL_RULES],
      effort: 2,
      place: 'inverter fault',
    },
  ],
} as const satisfies Record<string, readonly StepCheck[]>

import type { View } from './route.ts'

/** What a door asks for: the thing, and what its absence costs. */
export interface Need {
  readonly what: string
  readonly costs: string
}

export interface Door {
  readonly name: string
  readonly title: string
  /** What it tells, in a line. */
  readonly tells: string
  /** The view that it leads to. */
  readonly view: View
  readonly logs: string
  readonly vehicle: Need
  readonly signals: Need
}

const SIGNALS: Need = {
  what: 'Signal table, for a CAN capture',
  costs: 'Without it nothing in a capture has a name: only identifiers and their rates are shown.',
}

/** The three reasons why people come. */
export const DOORS: readonly Door[] = [
  {
    name: 'over',
    title: 'The drive is over',
    tells: 'What speaks against handing the car over, and which part to open.',
    view: 'findings',
    logs: 'The logs of every box that wrote during the drive. Cells, current, pedal and start each answer for their part of the car; what was not logged is said to be open.',
    vehicle: {
      what: 'Vehicle file',
      costs:
        'Without it the build of the pack and its limits are learned from the log where that is possible, and the cells’ usual limits are taken.',
    },
    signals: SIGNALS,
  },
  {
    name: 'start',
    title: 'The car will not start',
    tells: 'Which step of the start stopped it, and what to measure next.',
    view: 'start',
    logs: 'A log from before the key to after the attempt: 12 V, key, plug, loops, contactors, pack and link voltage, states of the units. A step that was not logged cannot be ruled out.',
    vehicle: {
      what: 'Vehicle file',
      costs: 'Without it precharge is judged by where it ends alone, and the units’ states stay numbers.',
    },
    signals: SIGNALS,
  },
  {
    name: 'brakes',
    title: 'The brakes shall feel right',
    tells: 'How regeneration follows the brake, what held it back, and what another map would do.',
    view: 'brake',
    logs: 'A drive with brake presses from light to hard, with brake pressure, speed, motor torque and pack current. What was never pressed cannot be told.',
    vehicle: {
      what: 'Vehicle file',
      costs:
        'Without mass, wheel radius and gear ratio no slowing is forecast, and no map with more regeneration is proposed.',
    },
    signals: SIGNALS,
  },
]

export const doorNamed = (name: string | null): Door | undefined => DOORS.find((door) => door.name === name)

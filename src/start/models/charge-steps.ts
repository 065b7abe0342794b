import type { ChannelId } from '../../../shared/channels.ts'
import type { Vehicle } from '../../../shared/vehicle.ts'

/**
 * The charge chain as data, in the order of a charge on alternating current: what shows each step, and what to look at
 * when it fails. Source of the order: IEC 61851-1 (from memory); what to look at: common practice, no source.
 */
export interface ChargeStepDeclaration {
  readonly name: string
  readonly label: string
  readonly channels: readonly ChannelId[]
  readonly look: string
}

export const CHARGE_CHAIN: readonly ChargeStepDeclaration[] = [
  {
    name: 'plug',
    label: 'charge plug in',
    channels: ['charge_plug'],
    look: 'the plug: fully home, its detection contact clean and dry (eyes and torch)',
  },
  {
    name: 'proximity',
    label: 'cable recognised',
    channels: ['proximity_resistance'],
    look: 'another cable first; then the proximity contact of plug and inlet, and its wire to the charge unit',
  },
  {
    name: 'drive-inhibit',
    label: 'drive held off while plugged in',
    channels: ['drive_ready'],
    look: 'why the car stays ready to drive with the plug in: key off, then the plug signal’s wire to the control unit',
  },
  {
    name: 'pilot',
    label: 'station sees the car (pilot at 9 V)',
    channels: ['pilot_voltage'],
    look: 'another station or cable first; then the pilot contact of plug and inlet, and the charge unit’s pilot circuit',
  },
  {
    name: 'duty',
    label: 'station offers current',
    channels: ['pilot_duty'],
    look: 'the station: its display, its release and its own waiting time; then another station or cable',
  },
  {
    name: 'lock',
    label: 'plug locked',
    channels: ['charge_lock'],
    look: 'the inlet’s lock: does it move and does its feedback follow, with the plug fully home (eyes, a second person)',
  },
  {
    name: 'battery',
    label: 'battery unit awake and content',
    channels: ['bms_state', 'bms_faults'],
    look: 'the battery unit’s own fault list, read and written down before anything is changed; its 12 V supply and wake line',
  },
  {
    name: 'interlock',
    label: 'interlock loop closed',
    channels: ['interlock_closed'],
    look: 'every connector and cover that the interlock loop runs through, the charge inlet’s first: latched and fully home',
  },
  {
    name: 'precharge',
    label: 'precharge',
    channels: ['contactor_precharge', 'link_voltage'],
    look: 'what draws on the link while it is charged up: charger, heater, converter; then the precharge path, isolated and proved dead',
  },
  {
    name: 'contactors',
    label: 'contactors closed',
    channels: ['contactor_charge', 'contactor_positive', 'contactor_negative', 'bms_state'],
    look: 'what the battery unit waits for: its fault list, cell temperatures and limits, read live',
  },
  {
    name: 'request',
    label: 'battery unit asks for current',
    channels: ['charge_current_request'],
    look: 'why the battery unit asks for nothing: cell temperatures, highest cell, its charge limit, read live',
  },
  {
    name: 'state',
    label: 'car asks the station to close (pilot at 6 V)',
    channels: ['pilot_voltage'],
    look: 'the charge unit: what it waits for before it pulls the pilot down, and its pilot circuit',
  },
  {
    name: 'mains',
    label: 'station closes, mains at the charger',
    channels: ['mains_voltage'],
    look: 'another station or cable first; then plug and inlet contacts, dry and straight (eyes and torch)',
  },
  {
    name: 'current',
    label: 'charge current',
    channels: ['charger_current', 'pack_current'],
    look: 'what the battery unit asks of the charger (current and voltage), and the charger’s own fault list',
  },
]

/** The chain of one car: `charge_steps` of the vehicle file leaves steps out or puts them in its own order. */
export function chargeChainOf(vehicle: Vehicle): ChargeStepDeclaration[] {
  const { leave_out = [], order = [] } = vehicle.charge_steps ?? {}
  const kept = CHARGE_CHAIN.filter(({ name }) => !leave_out.includes(name))
  return inOrder(kept, order)
}

/** Named steps take the places that they hold together in the order given; the rest keeps its place. */
export function inOrder<Step extends { readonly name: string }>(
  steps: readonly Step[],
  order: readonly string[],
): Step[] {
  const named = order.flatMap((name) => steps.filter((step) => step.name === name))
  let next = 0
  return steps.map((step) => (order.includes(step.name) ? named[next++]! : step))
}

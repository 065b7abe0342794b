import type { ChannelId } from '../../../shared/channels.ts'
import { START_CHECKS, type StepCheck } from './start-step-checks.ts'

/** A step of the start chain, as a workshop thinks of it. */
export interface StepDeclaration {
  readonly name: string
  readonly label: string
  /** Channels that show it, best first. */
  readonly channels: readonly ChannelId[]
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
    checks: START_CHECKS.supply,
  },
  {
    name: 'key',
    label: 'key',
    channels: ['key_on'],
    judged: 'the key signal is on and stays on',
    role: 'condition',
    needs: ['supply'],
    means: 'the key switch, its relay or its wire',
    checks: START_CHECKS.key,
  },
  {
    name: 'plug',
    label: 'charge plug out',
    channels: ['charge_plug'],
    judged: 'the charge plug signal says out',
    role: 'condition',
    needs: [],
    means: 'the plug is in, or its detection contact or wire says so',
    checks: START_CHECKS.plug,
  },
  {
    name: 'interlock',
    label: 'interlock loop',
    channels: ['interlock_closed'],
    judged: 'the interlock loop stays closed through the attempt',
    role: 'condition',
    needs: ['supply'],
    means: 'a high-voltage connector, cover or service plug not fully home, or a broken loop wire',
    checks: START_CHECKS.interlock,
  },
  {
    name: 'inertia',
    label: 'inertia switch',
    channels: ['inertia_closed'],
    judged: 'the inertia switch stays closed through the attempt',
    role: 'condition',
    needs: ['supply'],
    means: 'the switch has tripped (a knock, a kerb, loose mounting) or its wire is broken',
    checks: START_CHECKS.inertia,
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
    checks: START_CHECKS.battery,
  },
  {
    name: 'isolation',
    label: 'isolation',
    channels: ['isolation_resistance'],
    judged: 'the settled isolation reading is above the limit in Ω/V',
    role: 'condition',
    needs: ['supply'],
    means: 'moisture, a chafed high-voltage cable, coolant in a box, or a faulty consumer',
    checks: START_CHECKS.isolation,
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
    checks: START_CHECKS.negative,
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
    checks: START_CHECKS.precharge,
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
    checks: START_CHECKS.positive,
  },
  {
    name: 'inverter',
    label: 'inverter powered',
    channels: ['inverter_state', 'inverter_faults'],
    judged: 'the inverter’s state is powered, ready or drive',
    role: 'effect',
    needs: ['supply', 'key', 'positive'],
    means: 'its 12 V supply or enable wire, a fault it keeps, or a lost bus connection',
    checks: START_CHECKS.inverter,
  },
  {
    name: 'brake',
    label: 'brake pressed',
    channels: ['brake_switch', 'brake_pressure', 'brake_pressure_front', 'brake_travel'],
    judged: 'the brake is seen pressed before drive ready',
    role: 'condition',
    needs: ['key'],
    means: 'the pedal was not pressed, or the brake switch or its adjustment is at fault',
    checks: START_CHECKS.brake,
  },
  {
    name: 'selector',
    label: 'selector in neutral',
    channels: ['selector'],
    judged: 'the selector is in neutral while the car waits to become ready',
    role: 'condition',
    needs: ['key'],
    means: 'the selector was left in gear, or its signal is stuck',
    checks: START_CHECKS.selector,
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
    checks: START_CHECKS.pedal,
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
    checks: START_CHECKS.ready,
  },
  {
    name: 'torque',
    label: 'torque follows',
    channels: ['torque', 'speed', 'motor_speed', 'torque_request', 'pedal_position'],
    judged: 'torque or movement follows when the pedal is pressed in gear',
    role: 'effect',
    needs: ['ready', 'selector', 'battery'],
    means: 'a limit at zero, an inverter that refuses, or a motor position sensor',
    checks: START_CHECKS.torque,
  },
]

/**
 * CANopen (CiA 301): what an identifier's number says by the predefined connection set, heartbeats' states and emergency
 * codes. Source: CiA 301, from memory.
 *
 *     0x000 network management   0x080 sync   0x081 … 0x0FF emergency   0x180 … 0x57F process data
 *     0x580, 0x600 + node service data        0x700 + node heartbeat (one byte: the state)
 */
export interface CanopenText {
  readonly node: number | null
  readonly what: string
}

const STATES: Readonly<Record<number, string>> = {
  0: 'has started',
  4: 'stopped',
  5: 'operational',
  127: 'pre-operational',
}

const COMMANDS: Readonly<Record<number, string>> = {
  1: 'start',
  2: 'stop',
  128: 'to pre-operational',
  129: 'reset of the node',
  130: 'reset of communication',
}

const EMERGENCIES: readonly (readonly [number, string])[] = [
  [0x00, 'error over'],
  [0x10, 'generic error'],
  [0x20, 'current'],
  [0x21, 'current on the input side'],
  [0x22, 'current inside the device'],
  [0x23, 'current on the output side'],
  [0x30, 'voltage'],
  [0x31, 'mains voltage'],
  [0x32, 'voltage inside the device'],
  [0x33, 'output voltage'],
  [0x40, 'temperature'],
  [0x41, 'ambient temperature'],
  [0x42, 'device temperature'],
  [0x50, 'hardware'],
  [0x60, 'software'],
  [0x70, 'additional modules'],
  [0x80, 'monitoring'],
  [0x81, 'communication'],
  [0x82, 'protocol'],
  [0x90, 'external error'],
  [0xf0, 'additional functions'],
  [0xff, 'device specific'],
]

/** What a frame with an 11-bit identifier says where the bus speaks CANopen; null where the number says nothing. */
export function canopenText(identifier: number, data: Uint8Array): CanopenText | null {
  const node = identifier & 0x7f
  if (identifier === 0x000)
    return data.length >= 2
      ? { node: data[1]! || null, what: `network management: ${COMMANDS[data[0]!] ?? `command ${data[0]}`}` }
      : null
  if (identifier === 0x080) return { node: null, what: 'sync' }
  if (identifier > 0x080 && identifier < 0x100 && data.length === 8) {
    const code = data[0]! | (data[1]! << 8)
    return {
      node,
      what: `emergency 0x${code.toString(16).toUpperCase().padStart(4, '0')}: ${emergency(code)}, register 0x${data[2]!.toString(16).toUpperCase().padStart(2, '0')}`,
    }
  }
  if (identifier > 0x700 && identifier < 0x780 && data.length === 1) {
    const state = STATES[data[0]! & 0x7f]
    return state ? { node, what: `heartbeat: ${state}` } : null
  }
  return null
}

function emergency(code: number): string {
  const exact = EMERGENCIES.find(([high]) => high === code >> 8)
  return (exact ?? EMERGENCIES.find(([high]) => high === ((code >> 8) & 0xf0)))?.[1] ?? 'not defined'
}

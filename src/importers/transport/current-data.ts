/**
 * SAE J1979 (ISO 15031-5) current data: what each parameter means, by the published formulas. value = raw · factor + offset,
 * raw big-endian. Source: SAE J1979 parameter tables (`shared/checks.md` S5, S6; the others from memory).
 */
export interface Parameter {
  readonly pid: number
  readonly name: string
  /** Catalogue channel where there is one. */
  readonly channel: string | null
  readonly bytes: 1 | 2 | 4
  readonly factor: number
  readonly offset: number
  readonly unit: string
}

const parameter = (
  pid: number,
  name: string,
  channel: string | null,
  bytes: 1 | 2 | 4,
  factor: number,
  offset: number,
  unit: string,
): Parameter => ({ pid, name, channel, bytes, factor, offset, unit })

const PARAMETERS: readonly Parameter[] = [
  parameter(0x04, 'calculated load', null, 1, 100 / 255, 0, '%'),
  parameter(0x05, 'coolant temperature', 'coolant_out', 1, 1, -40, '°C'),
  parameter(0x0c, 'motor speed', 'motor_speed', 2, 0.25, 0, 'rpm'),
  parameter(0x0d, 'vehicle speed', 'speed', 1, 1, 0, 'km/h'),
  parameter(0x0f, 'intake air temperature', null, 1, 1, -40, '°C'),
  parameter(0x11, 'throttle position', null, 1, 100 / 255, 0, '%'),
  parameter(0x1f, 'time since start', null, 2, 1, 0, 's'),
  parameter(0x33, 'barometric pressure', null, 1, 1, 0, 'kPa'),
  parameter(0x42, 'control module voltage', 'lv_voltage', 2, 0.001, 0, 'V'),
  parameter(0x46, 'ambient air temperature', 'ambient_temperature', 1, 1, -40, '°C'),
  parameter(0x49, 'accelerator pedal position D', 'pedal_track_1', 1, 100 / 255, 0, '%'),
  parameter(0x4a, 'accelerator pedal position E', 'pedal_track_2', 1, 100 / 255, 0, '%'),
  parameter(0x5a, 'relative accelerator pedal position', 'pedal_position', 1, 100 / 255, 0, '%'),
  parameter(0x5b, 'battery pack remaining life', 'soc', 1, 100 / 255, 0, '%'),
  parameter(0x61, 'torque asked by the driver', null, 1, 1, -125, '%'),
  parameter(0x62, 'actual torque', null, 1, 1, -125, '%'),
  parameter(0x63, 'reference torque', null, 2, 1, 0, 'N·m'),
  parameter(0xa6, 'odometer', 'odometer', 4, 0.1, 0, 'km'),
]

const byPid = new Map(PARAMETERS.map((each) => [each.pid, each]))
export const parameterOf = (pid: number): Parameter | undefined => byPid.get(pid)

/** One answer to a request for current data: `41`, then parameters with their bytes. Stops at one that is not known. */
export function currentData(answer: Uint8Array): { readonly parameter: Parameter; readonly value: number }[] {
  const found: { parameter: Parameter; value: number }[] = []
  if (answer[0] !== 0x41) return found
  for (let at = 1; at < answer.length; ) {
    const parameter = byPid.get(answer[at]!)
    if (!parameter || at + parameter.bytes >= answer.length + 0) break
    let raw = 0
    for (let k = 1; k <= parameter.bytes; k++) raw = raw * 256 + answer[at + k]!
    found.push({ parameter, value: raw * parameter.factor + parameter.offset })
    at += 1 + parameter.bytes
  }
  return found
}

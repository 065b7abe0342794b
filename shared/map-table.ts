import type { MapTable } from './review.ts'

/** A proposed map as text to read off, one point a line. */
export function tableText({ pressure, fade, error_nm, up_to_bar }: MapTable): string {
  return [
    'pressure [bar]   slowing torque in all [N·m]   brake part [N·m]   of the controller [%]',
    ...pressure.map(
      ({ bar, total_nm, brake_nm, percent }) =>
        `${bar.toFixed(1).padStart(14)}${total_nm.toFixed(1).padStart(30)}${brake_nm.toFixed(1).padStart(19)}${(percent === null ? '\u2013' : percent.toFixed(1)).padStart(24)}`,
    ),
    '',
    'speed [km/h]   brake part [%]',
    ...fade.map(({ kmh, percent }) => `${kmh.toFixed(1).padStart(12)}${percent.toFixed(1).padStart(17)}`),
    '',
    `Straight between the points this keeps the map to within ${error_nm.toFixed(1)} N·m. Beyond ${up_to_bar.toFixed(1)} bar nothing was seen.`,
  ].join('\n')
}

/** The same as CSV, units in the header. */
export function tableCsv({ pressure, fade }: MapTable): string {
  return [
    'pressure [bar],slowing_torque [N·m],brake_part [N·m],of_controller [%]',
    ...pressure.map(({ bar, total_nm, brake_nm, percent }) =>
      [bar, total_nm, brake_nm, percent ?? ''].join(','),
    ),
    '',
    'speed [km/h],brake_part [%]',
    ...fade.map(({ kmh, percent }) => [kmh, percent].join(',')),
    '',
  ].join('\n')
}

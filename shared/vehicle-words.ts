/** Labels of the vehicle file's fields that the program asks for: the form's, and those of sentences. */
export const VEHICLE_WORDS = {
  'car.mass_kg': 'Mass, empty',
  'car.wheel_radius_m': 'Wheel radius',
  'car.gear_ratio': 'Gear ratio',
  'car.driven_axle': 'Driven axle',
  'car.wheelbase_m': 'Wheelbase',
  'car.front_mass_share': 'Share of mass on the front axle',
  'car.inverter_temperature_max': 'Hottest inverter',
  'car.motor_temperature_max': 'Hottest motor',
} as const

/** "“Driven axle”, “Wheelbase”": fields as the form labels them. */
export const fieldsInWords = (paths: readonly string[]): string =>
  paths.map((path) => `“${(VEHICLE_WORDS as Record<string, string>)[path] ?? path}”`).join(', ')

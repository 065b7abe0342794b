import { z } from 'zod'
import { BOUNDS } from './bounds.ts'

const number = z.number()
const positive = z.number().positive()
const pair = z.tuple([number, number])
/** Lists a module or a sensor, and the numbers in them. */
const listOf = <T extends z.ZodType>(item: T) => z.array(item).max(BOUNDS.modules)
const cell = z.int().positive().max(BOUNDS.cells)
const sensor = z.int().positive().max(BOUNDS.modules)
const numberOrList = z.union([positive, listOf(positive).min(1)])
const names = z.record(z.string(), z.string())

/** The vehicle file: one car as built. Every field is optional; what is missing is learned or assumed, and said. */
export const vehicleSchema = z.object({
  name: z.string().optional(),
  kit: z.string().optional(),
  sources: z.union([z.string(), z.record(z.string(), z.string())]).optional(),
  pack: z
    .object({
      cells: cell.optional(),
      parallel_cells: z.int().positive().max(BOUNDS.cells).optional(),
      cells_per_module: z.union([cell, listOf(cell).min(1)]).optional(),
      box_of_module: listOf(z.string()).optional(),
      cooling_group_of_module: listOf(z.string()).optional(),
      cooling_order: listOf(listOf(sensor)).optional(),
      sensors_of_module: listOf(listOf(sensor)).optional(),
      sensor_place_of_sensor: listOf(z.enum(['cell', 'busbar', 'plate', 'air'])).optional(),
      long_busbar_after_cells: z.array(cell).max(BOUNDS.cells).optional(),
      joint_read_with: z.enum(['lower', 'upper']).optional(),
      end_joints_read: z.tuple([z.boolean(), z.boolean()]).optional(),
      pack_voltage_at: z.enum(['cells', 'pack-terminals', 'after-contactors']).optional(),
      capacity_ah: positive.optional(),
      chemistry: z.string().optional(),
      cell_voltage_min: positive.optional(),
      cell_voltage_max: positive.optional(),
      cell_temperature_min_charge: number.optional(),
      cell_temperature_max: number.optional(),
      ocv: z.array(pair).min(2).max(BOUNDS.points).optional(),
      links: z
        .array(
          z.object({
            after_cell: cell,
            length_m: positive.optional(),
            section_mm2: positive.optional(),
            kind: z.enum(['busbar', 'cable', 'service-plug', 'fuse']).optional(),
          }),
        )
        .max(BOUNDS.cells)
        .optional(),
      balance_current_a: positive.optional(),
      scan_ms: z.number().nonnegative().optional(),
      cell_filter_s: z.number().nonnegative().optional(),
      current_gain_percent: z.number().nonnegative().optional(),
    })
    .optional(),
  precharge: z
    .object({
      resistor_ohm: positive.optional(),
      link_farad: positive.optional(),
      bleed_ohm: positive.optional(),
      ready_percent: positive.optional(),
      layout: z.enum(['positive', 'negative', 'none']).optional(),
    })
    .optional(),
  pedal: z
    .object({
      cruise: z.boolean().optional(),
      hold: z.boolean().optional(),
      track_1: pair.optional(),
      track_2: pair.optional(),
      mismatch_percent: positive.optional(),
      mismatch_ms: z.number().nonnegative().optional(),
      valid_v: pair.optional(),
      creep_max_nm: z.number().nonnegative().optional(),
    })
    .optional(),
  brake: z
    .object({
      regen_input: z.array(z.enum(['pressure', 'travel', 'switch', 'pedal-lift'])).optional(),
      regen_start_bar: z.number().nonnegative().optional(),
      regen_full_bar: positive.optional(),
      regen_max_nm: positive.optional(),
      lift_regen_nm: z.number().nonnegative().optional(),
      fade_kmh: pair.optional(),
      sensor_circuit: z.string().optional(),
      sensor_after_limiter: z.boolean().optional(),
      sensor_zero_bar: number.optional(),
      valid_v: pair.optional(),
    })
    .optional(),
  car: z
    .object({
      mass_kg: positive.optional(),
      mass_laden_kg: positive.optional(),
      wheel_radius_m: positive.optional(),
      gear_ratio: numberOrList.optional(),
      drag_area_m2: positive.optional(),
      rolling_coefficient: positive.optional(),
      speed_from: z.enum(['motor', 'wheel', 'position']).optional(),
      driven_axle: z.string().optional(),
      wheelbase_m: positive.optional(),
      front_mass_share: z.number().min(0).max(1).optional(),
      centre_of_gravity_m: positive.optional(),
      torque_error_percent: z.number().nonnegative().optional(),
      rotating_mass_factor: positive.optional(),
      inverter_temperature_max: number.optional(),
      motor_temperature_max: number.optional(),
    })
    .optional(),
  /** Of the 12 V battery. */
  lv_chemistry: z.enum(['lead', 'lfp']).optional(),
  controller_max_nm: positive.optional(),
  isolation_min_ohm_per_volt: positive.optional(),
  isolation_monitor_side: z.enum(['battery', 'link']).optional(),
  states: z.object({ bms: names.optional(), inverter: names.optional() }).optional(),
  fault_bits: z.object({ bms: names.optional(), inverter: names.optional() }).optional(),
  start_steps: z
    .union([
      z.array(z.string()),
      z.object({
        leave_out: z.array(z.string()).optional(),
        add: z
          .array(
            z.object({
              name: z.string(),
              channel: z.string(),
              held_when: number.optional(),
              after: z.string().optional(),
            }),
          )
          .optional(),
        order: z.array(z.string()).optional(),
      }),
    ])
    .optional(),
  /** Steps of the charge chain that this car has not, and the order that it goes by where it is its own. */
  charge_steps: z
    .object({ leave_out: z.array(z.string()).optional(), order: z.array(z.string()).optional() })
    .optional(),
  /** Printed on papers, never needed. */
  record: z
    .object({
      registration: z.string().optional(),
      vin: z.string().optional(),
      customer: z.string().optional(),
      odometer_km: number.optional(),
    })
    .optional(),
})

export type Vehicle = z.infer<typeof vehicleSchema>

/** The pack as built, worked out from the vehicle file and the cells seen: half-open cell ranges a module. */
export interface PackLayout {
  readonly cells: number
  /** First cell (1-based) of each module, plus one past the last: `starts[m]` … `starts[m + 1] − 1`. */
  readonly moduleStarts: readonly number[]
  /** Cells (1-based) that a longer busbar or cable follows. */
  readonly longAfter: ReadonlySet<number>
  readonly known: boolean
}

/**
 * Lays the cells out in modules. Cells beyond what the vehicle file describes form a last module; without
 * `cells_per_module` the whole pack is one module and `known` is false.
 */
export function packLayout(vehicle: Vehicle, cellsSeen: number): PackLayout {
  const pack = vehicle.pack ?? {}
  const cells = Math.max(cellsSeen, pack.cells ?? 0)
  const per = pack.cells_per_module
  const starts = [1]
  let next = 1
  for (let module = 0; per !== undefined && next <= cells; module++) {
    const size = Array.isArray(per) ? (per[module] ?? cells - next + 1) : per
    next = Math.min(next + size, cells + 1)
    starts.push(next)
  }
  if (per === undefined) starts.push(cells + 1)
  const longAfter = new Set(pack.long_busbar_after_cells ?? [])
  return { cells, moduleStarts: starts, longAfter, known: per !== undefined }
}

/** The 1-based module of a 1-based cell. */
export function moduleOfCell(layout: PackLayout, cell: number): number {
  let module = 1
  while (module < layout.moduleStarts.length - 1 && cell >= layout.moduleStarts[module]!) module++
  return module
}

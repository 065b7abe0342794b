import type { Vehicle } from '../../shared/vehicle.ts'
import { type Car, cellCount, longLinkCells } from './car.ts'
import { OPEN_CIRCUIT_KNOTS } from './open-circuit.ts'

/** The vehicle file that the builder of this car would write. */
export function vehicleFile(car: Car, scanS?: number): Vehicle {
  const { pack, heat, precharge, pedal, brake, road } = car
  const sensors = heat.sensorsPerModule
  return {
    name: car.name,
    sources: 'the builder\u2019s own figures (invented car)',
    pack: {
      cells: cellCount(car),
      parallel_cells: pack.parallel,
      cells_per_module: [...pack.cellsPerModule],
      box_of_module: [...pack.boxOfModule],
      cooling_order: heat.coolingOrder.map((loop) => [...loop]),
      sensors_of_module: pack.cellsPerModule.map((_, m) =>
        Array.from({ length: sensors }, (_, s) => m * sensors + s + 1),
      ),
      sensor_place_of_sensor: pack.cellsPerModule.flatMap(() =>
        Array.from({ length: sensors }, (_, s) => heat.sensorPlaces[s % heat.sensorPlaces.length]!),
      ),
      ...(pack.longLinksRead ? { long_busbar_after_cells: longLinkCells(car) } : {}),
      joint_read_with: pack.jointReadWith,
      pack_voltage_at: pack.packVoltageAt,
      capacity_ah: pack.capacityAh,
      chemistry: pack.chemistry,
      cell_voltage_min: pack.voltMin,
      cell_voltage_max: pack.voltMax,
      cell_temperature_min_charge: 0,
      cell_temperature_max: heat.maxC,
      ocv: OPEN_CIRCUIT_KNOTS[pack.chemistry].map(([percent, volt]): [number, number] => [percent, volt]),
      ...(pack.balanceA > 0 ? { balance_current_a: pack.balanceA } : {}),
      ...(scanS === undefined ? {} : { scan_ms: Math.round(scanS * 1000) }),
    },
    precharge: {
      resistor_ohm: precharge.resistorOhm,
      link_farad: precharge.linkFarad,
      bleed_ohm: precharge.bleedOhm,
      ready_percent: precharge.readyPercent,
      layout: precharge.layout,
    },
    pedal: {
      track_1: [...pedal.track1],
      track_2: [...pedal.track2],
      mismatch_percent: 10,
      mismatch_ms: 100,
      valid_v: [0.3, 4.7],
    },
    brake: {
      regen_input: ['pressure', 'pedal-lift'],
      regen_start_bar: brake.startBar,
      regen_full_bar: brake.fullBar,
      regen_max_nm: brake.maxNm,
      lift_regen_nm: brake.liftNm,
      fade_kmh: [...brake.fadeKmh],
      sensor_zero_bar: brake.sensorZeroBar,
    },
    car: {
      mass_kg: road.massKg,
      wheel_radius_m: road.wheelRadiusM,
      gear_ratio: road.gear,
      drag_area_m2: road.dragAreaM2,
      rolling_coefficient: road.rolling,
      speed_from: 'wheel',
      driven_axle: road.drivenAxle,
    },
    isolation_min_ohm_per_volt: 500,
    states: {
      bms: {
        '0': 'asleep',
        '1': 'idle',
        '2': 'checking',
        '4': 'precharge',
        '6': 'contactors closed',
        '7': 'charging',
        '9': 'fault',
      },
      inverter: { '0': 'off', '1': 'powered', '3': 'ready', '4': 'drive', '8': 'fault' },
    },
    fault_bits: {
      bms: {
        '0': 'isolation low',
        '1': 'interlock open',
        '2': 'precharge timed out',
        '3': 'cell fault',
        '4': '12 V low',
        '5': 'inertia switch open',
      },
    },
  }
}

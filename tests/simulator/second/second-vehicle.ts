import type { Vehicle } from '../../../shared/vehicle.ts'
import { type Build, cellsOf } from './build.ts'
import { CHEMISTRIES, restVolt } from './chemistry.ts'

/** The vehicle file that the builder of this car would write, `links` and functions included. */
export function secondVehicle(build: Build): Vehicle {
  const { cells, links, heat, precharge, pedal, brake, road, functions } = build
  const chemistry = CHEMISTRIES[cells.chemistry]
  const sensors = heat.sensorsPerModule
  const modules = cells.perModule.map((_, m) => m)
  const gearbox = road.ratios.length > 1
  const vehicle = {
    name: build.name,
    sources: 'the builder\u2019s own figures (invented car)',
    pack: {
      cells: cellsOf(build),
      parallel_cells: cells.parallel,
      cells_per_module: [...cells.perModule],
      box_of_module: [...build.boxOfModule],
      cooling_group_of_module: modules.map((m) => `plate ${build.boxOfModule[m]}`),
      cooling_order: heat.loops.map((loop) => [...loop]),
      sensors_of_module: modules.map((m) => Array.from({ length: sensors }, (_, s) => m * sensors + s + 1)),
      sensor_place_of_sensor: modules.flatMap(() =>
        Array.from({ length: sensors }, (_, s) => heat.sensorPlaces[s % heat.sensorPlaces.length]!),
      ),
      ...(links.specialRead ? { long_busbar_after_cells: links.special.map((link) => link.afterCell) } : {}),
      links: links.special.map((link) => ({
        after_cell: link.afterCell,
        length_m: link.lengthM,
        section_mm2: link.sectionMm2,
        kind: link.kind,
      })),
      joint_read_with: links.readWith,
      pack_voltage_at: links.packVoltageAt,
      capacity_ah: cells.capacityAh,
      chemistry: cells.chemistry,
      cell_voltage_min: chemistry.voltMin,
      cell_voltage_max: chemistry.voltMax,
      cell_temperature_min_charge: 0,
      cell_temperature_max: heat.maxC,
      ocv: Array.from({ length: 21 }, (_, i): [number, number] => [
        5 * i,
        Math.round(1000 * restVolt(chemistry, i / 20)) / 1000,
      ]),
    },
    precharge: {
      resistor_ohm: precharge.resistorOhm,
      link_farad: precharge.linkFarad,
      bleed_ohm: precharge.bleedOhm,
      ready_percent: precharge.readyPercent,
      layout: 'positive',
    },
    pedal: {
      track_1: [...pedal.track1],
      track_2: [...pedal.track2],
      mismatch_percent: 10,
      mismatch_ms: 100,
      valid_v: [0.2, 4.8],
      ...(functions.declared
        ? {
            cruise: functions.cruise,
            hold: functions.creep || functions.hold,
            creep_max_nm: pedal.creepMaxNm,
          }
        : {}),
    },
    brake: {
      regen_input: ['pressure', ...(brake.liftNm > 0 ? ['pedal-lift'] : [])],
      regen_start_bar: brake.startBar,
      regen_full_bar: brake.fullBar,
      regen_max_nm: brake.maxNm,
      lift_regen_nm: brake.liftNm,
      fade_kmh: [...brake.fadeKmh],
      sensor_zero_bar: brake.zeroBar,
    },
    car: {
      mass_kg: road.massKg,
      wheel_radius_m: road.wheelRadiusM,
      gear_ratio: gearbox ? [...road.ratios] : road.ratios[0]!,
      drag_area_m2: road.dragAreaM2,
      rolling_coefficient: road.rolling,
      speed_from: 'wheel',
      driven_axle: road.drivenAxle,
    },
    isolation_min_ohm_per_volt: 500,
    states: {
      bms: { '0': 'off', '1': 'waiting', '2': 'precharge', '3': 'closed', '4': 'charging', '5': 'fault' },
      inverter: { '0': 'off', '1': 'powered', '2': 'ready', '3': 'drive' },
    },
  }
  return vehicle as unknown as Vehicle
}

import type { Vehicle } from '../../../shared/vehicle.ts'
import type { Model } from '../../studies/two-models.ts'
import { type Car, makeCar } from '../car.ts'
import { openCircuitVolt } from '../open-circuit.ts'
import { makePack } from '../pack.ts'
import { Random } from '../random.ts'
import { randomCase } from '../random-case.ts'
import { type Build, cellsOf, makeBuild } from '../second/build.ts'
import { CHEMISTRIES, restVolt } from '../second/chemistry.ts'
import { secondCase } from '../second/random-second.ts'
import { secondVehicle } from '../second/second-vehicle.ts'
import { vehicleFile } from '../vehicle-file.ts'

/**
 * A car of either simulator, as a charge of hours needs it: cells with their own capacity, resistance and charge, one
 * slow part each. The simulators' own cells are right to a tenth of a second and too dear for a night.
 */
export interface ChargeCar {
  readonly name: string
  readonly vehicle: Vehicle
  readonly cells: number
  readonly capacityAh: Float64Array
  readonly ohm: Float64Array
  readonly slowOhm: Float64Array
  readonly slowS: number
  /** Apart from the pack's, by its spread. */
  readonly socApart: Float64Array
  readonly maxV: number
  readonly modules: number
  readonly sensors: number
  readonly prechargeS: number
  readonly readyPercent: number
  readonly states: Readonly<Record<'asleep' | 'waiting' | 'precharge' | 'charging' | 'fault', number>>
  restV(soc: number): number
}

export function chargeCar(model: Model, seed: number): ChargeCar {
  const random = new Random(seed).fork(`charge car ${model}`)
  return model === 'first' ? first(seed, random) : second(seed, random)
}

function first(seed: number, random: Random): ChargeCar {
  return carOf(makeCar(randomCase({ seed }).car), random)
}

/** The first simulator's car. */
export function carOf(car: Car, random: Random): ChargeCar {
  const { pack, heat, precharge } = car
  const made = makePack(car, [], random)
  return {
    name: car.name,
    vehicle: vehicleFile(car),
    cells: made.cells,
    capacityAh: made.capacityAh,
    ohm: made.ohmic.map((ohm, k) => ohm + made.readOhm[k]!),
    slowOhm: made.slow1.map((ohm, k) => ohm + made.slow2[k]!),
    slowS: pack.slowS[1],
    socApart: made.startSoc.map((soc) => soc - pack.startSoc),
    maxV: pack.voltMax,
    modules: pack.cellsPerModule.length,
    sensors: pack.cellsPerModule.length * heat.sensorsPerModule,
    prechargeS: 3 * precharge.resistorOhm * precharge.linkFarad,
    readyPercent: precharge.readyPercent,
    states: { asleep: 0, waiting: 1, precharge: 4, charging: 7, fault: 9 },
    restV: (soc) => openCircuitVolt(pack.chemistry, soc),
  }
}

function second(seed: number, random: Random): ChargeCar {
  const build: Build = makeBuild(secondCase({ seed }).build)
  const { cells: own, heat, precharge, links } = build
  const cells = cellsOf(build)
  const spread = (base: number, by: number) =>
    Float64Array.from({ length: cells }, () => base * (1 + by * random.normal()))
  const chemistry = CHEMISTRIES[own.chemistry]
  return {
    name: build.name,
    vehicle: secondVehicle(build),
    cells,
    capacityAh: spread(own.capacityAh, own.capacitySpread),
    ohm: spread(own.ohmicMohmAh / own.capacityAh / 1000, own.ohmicSpread).map(
      (ohm) => ohm + links.insideMohm / 1000,
    ),
    slowOhm: spread((1.4 * own.ohmicMohmAh) / own.capacityAh / 1000, own.kineticSpread),
    slowS: 420,
    socApart: Float64Array.from({ length: cells }, () => own.socSpread * random.normal()),
    maxV: chemistry.voltMax,
    modules: own.perModule.length,
    sensors: own.perModule.length * heat.sensorsPerModule,
    prechargeS: 3 * precharge.resistorOhm * precharge.linkFarad,
    readyPercent: precharge.readyPercent,
    states: { asleep: 0, waiting: 1, precharge: 2, charging: 4, fault: 5 },
    restV: (soc) => restVolt(chemistry, soc),
  }
}

import type { Finding } from '../../../shared/review.ts'
import { cellSum } from '../../car/cell-sum.ts'
import { type Answer, assessed, notAssessed } from '../../facts/answer.ts'
import { type Facts, family, logged } from '../../facts/facts.ts'
import { finding } from '../../facts/finding.ts'

/**
 * Does the vehicle file describe the pack that the log shows?
 *
 * Model:  counts: cells and temperature sensors logged against those of the file; the file's modules against its cells;
 *         and pack voltage over a mean cell, which counts the cells without either.
 * Reads:  cell_voltage.*, pack_voltage [V]; module_temperature.* [°C]; `pack` of the vehicle file.
 * Gives:  `vehicle-file-disagrees`, a note each: nothing is wrong with the car by that, but places may be told wrong.
 * Biased by: places of a battery unit that are not fitted and read like cells (left out before, see drive/cleaning).
 * Blind:  a file whose counts are right and whose order is not.
 * Source: counting; common practice, no source.
 */
export function vehicleFile(facts: Facts): Answer {
  const ask = 'Does the vehicle file describe the pack that the log shows?'
  const pack = facts.vehicle.pack
  const logged = family(facts, 'cell_voltage')
  const sensors = family(facts, 'module_temperature')
  const stated = pack && (pack.cells ?? pack.cells_per_module ?? pack.sensors_of_module)
  if (!stated || (logged.length === 0 && sensors.length === 0)) {
    const why = stated
      ? 'neither cells nor temperature sensors are logged'
      : 'the vehicle file gives no cells, modules or sensors'
    const toAssess = stated
      ? 'Log every cell and temperature sensor.'
      : 'Enter the cells of each module and its sensors.'
    return {
      questions: [notAssessed('log', ask, stated ? ['cell_voltage.1'] : [], why, toAssess)],
      findings: [],
    }
  }
  const findings = [...cellCount(facts, logged.length), ...moduleCount(facts), ...sensorCount(facts)]
  const why =
    findings.length > 0
      ? findings.map(({ headline }) => headline).join(' ')
      : `${logged.length} cells and ${sensors.length} temperature sensors logged, as the file has them.`
  return { questions: [assessed('log', ask, false, why)], findings }
}

function cellCount(facts: Facts, logged: number): Finding[] {
  const cells = facts.vehicle.pack?.cells
  if (cells === undefined || logged === 0) return []
  const highest = Math.max(...family(facts, 'cell_voltage').map(({ number }) => number))
  const counted = facts.once(cellSum)?.byPackVoltage ?? null
  if (highest === cells && logged === cells) return []
  const byVoltage = counted === null ? '' : ` Pack voltage holds ${counted.toFixed(1)} times the mean cell.`
  const used =
    highest > cells
      ? `The review takes all ${highest} cells of the log.`
      : `The review takes ${cells} cells, ${cells - logged} of them not logged.`
  return [
    said(
      facts,
      `The vehicle file says ${cells} cells, the log holds ${logged}${highest === logged ? '' : ` (the highest number is ${highest})`}.`,
      `${used}${byVoltage}`,
      logged,
      'cells',
      cells,
      ['cell_voltage.1', 'pack_voltage'],
    ),
  ]
}

function moduleCount(facts: Facts): Finding[] {
  const { cells, cells_per_module: per, box_of_module: boxes } = facts.vehicle.pack ?? {}
  if (cells === undefined || per === undefined) return []
  const inModules = Array.isArray(per)
    ? per.reduce((sum, each) => sum + each, 0)
    : per * Math.ceil(cells / per)
  const modules = Array.isArray(per) ? per.length : Math.ceil(cells / per)
  const wrong: string[] = []
  if (inModules !== cells)
    wrong.push(
      Array.isArray(per)
        ? `its modules hold ${inModules} cells, not ${cells}`
        : `${cells} cells do not divide into modules of ${per}`,
    )
  if (boxes && boxes.length !== modules)
    wrong.push(`it places ${boxes.length} modules of ${modules} in boxes`)
  if (wrong.length === 0) return []
  return [
    said(
      facts,
      `The vehicle file does not fit itself: ${wrong.join('; ')}.`,
      'Modules and boxes that findings name may be the wrong ones; cell numbers are the log’s own.',
      inModules,
      'cells',
      cells,
      ['cell_voltage.1'],
    ),
  ]
}

function sensorCount(facts: Facts): Finding[] {
  const stated = facts.vehicle.pack?.sensors_of_module
  const logged = family(facts, 'module_temperature').map(({ number }) => number)
  if (!stated || logged.length === 0) return []
  const known = new Set(stated.flat())
  const unknown = logged.filter((number) => !known.has(number))
  if (unknown.length === 0) return []
  return [
    said(
      facts,
      `The vehicle file places ${known.size} temperature sensors, the log holds ${logged.length}.`,
      `It does not say where sensor ${unknown.slice(0, 6).join(', ')}${unknown.length > 6 ? ', …' : ''} sits: what they read is in no module’s figures.`,
      logged.length,
      'sensors',
      known.size,
      ['module_temperature.1'],
    ),
  ]
}

function said(
  facts: Facts,
  headline: string,
  reason: string,
  value: number,
  unit: string,
  stated: number,
  channels: readonly string[],
): Finding {
  return finding({
    kind: 'vehicle-file-disagrees',
    subject: { type: 'file', name: 'vehicle file' },
    span_s: [0, facts.drive.durationS],
    value,
    unit,
    limit: { attention: stated, stop: null, unit, source: 'vehicle file' },
    severity: 'note',
    headline,
    reason,
    next_step:
      'Compare the vehicle file with the pack as built, and what the log leaves out; then review the drive again.',
    channels: logged(facts, channels),
  })
}

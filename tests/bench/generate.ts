import { closeSync, existsSync, mkdirSync, openSync, statSync, writeSync } from 'node:fs'
import { join } from 'node:path'

/** A pack of 98 cells and 14 temperatures beside 20 channels of other boxes: 180 000 rows, a time and 132 channels. */
export const ROWS = 180_000
export const COLUMNS = 133
const CELLS = 98
const SENSORS = 14

/** Deterministic whole numbers 0 … 2³² − 1 (xorshift, Marsaglia 2003). */
function numbers(seed: number): () => number {
  let x = seed >>> 0
  return () => {
    x ^= x << 13
    x >>>= 0
    x ^= x >>> 17
    x ^= x << 5
    x >>>= 0
    return x
  }
}

/**
 * Writes the two files once: dense (every field filled, about 140 MB) and sparse (cells at 10 Hz, temperatures at 1 Hz
 * in rows at 100 Hz: about 77 % empty).
 */
export function generatedFiles(folder: string): { dense: string; sparse: string } {
  mkdirSync(folder, { recursive: true })
  const dense = join(folder, 'dense.csv')
  const sparse = join(folder, 'sparse.csv')
  if (!existsSync(dense) || statSync(dense).size < 1e8) write(dense, false)
  if (!existsSync(sparse) || statSync(sparse).size < 4.5e7) write(sparse, true)
  return { dense, sparse }
}

function write(path: string, sparse: boolean): void {
  const next = numbers(7)
  const names = [
    'time [s]',
    'Pack voltage [V]',
    'Pack current [A]',
    'Link voltage [V]',
    'Motor torque [Nm]',
    'Motor speed [rpm]',
    'Vehicle speed [km/h]',
    'Accelerator track 1 [V]',
    'Accelerator track 2 [V]',
    'Brake pressure [bar]',
    'State of charge [%]',
    '12 V supply [V]',
    'Motor temp [°C]',
    'Inverter temp [°C]',
    'Coolant in [°C]',
    'Coolant out [°C]',
    'Coolant flow [l/min]',
    'Isolation [kΩ]',
    'Charge limit [A]',
    'Discharge limit [A]',
    'Torque limit [Nm]',
  ]
  for (let c = 1; c <= CELLS; c++) names.push(`Cell ${c} [V]`)
  for (let s = 1; s <= SENSORS; s++) names.push(`Module temp ${s} [°C]`)
  const file = openSync(path, 'w')
  let text = `${names.join(',')}\n`
  for (let row = 0; row < ROWS; row++) {
    const fields = [(row / 100).toFixed(2)]
    const current = ((next() % 4000) - 800) / 10
    fields.push(
      (420 - current / 20).toFixed(1),
      current.toFixed(1),
      (419 - current / 20).toFixed(1),
      (current * 0.9).toFixed(1),
      String(next() % 9000),
      ((next() % 12000) / 100).toFixed(2),
      (0.85 + (next() % 3300) / 1000).toFixed(3),
      (4.15 - (next() % 3300) / 1000).toFixed(3),
      ((next() % 6000) / 100).toFixed(2),
      (82 - row / 10000).toFixed(1),
      (13.2 + (next() % 90) / 100).toFixed(2),
      (40 + (next() % 80) / 2).toFixed(1),
      (35 + (next() % 60) / 2).toFixed(1),
      (22 + (next() % 40) / 10).toFixed(1),
      (24 + (next() % 40) / 10).toFixed(1),
      (9 + (next() % 30) / 10).toFixed(1),
      String(1500 + (next() % 900)),
      ((next() % 1500) / 10).toFixed(1),
      ((next() % 4000) / 10).toFixed(1),
      ((next() % 2200) / 10).toFixed(1),
    )
    const cells = !sparse || row % 10 === 0
    for (let c = 0; c < CELLS; c++) fields.push(cells ? (3.6 + (next() % 400) / 1000).toFixed(3) : '')
    const temperatures = !sparse || row % 100 === 0
    for (let s = 0; s < SENSORS; s++) fields.push(temperatures ? (20 + (next() % 60) / 2).toFixed(1) : '')
    text += `${fields.join(',')}\n`
    if (text.length > 1 << 20) {
      writeSync(file, text)
      text = ''
    }
  }
  writeSync(file, text)
  closeSync(file)
}

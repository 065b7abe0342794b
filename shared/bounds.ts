/**
 * The most of each thing that one drive may bring: one table, enforced where a file comes in, each with a sentence. Far
 * beyond any car; nothing is sized by a number that a file claims before it was held against this table.
 */
export const BOUNDS = {
  /** Cells in series, and the highest number that a column may carry. Packs of cars have up to some hundred. */
  cells: 1000,
  /** Modules, boxes' entries and temperature sensors. */
  modules: 1000,
  /** Points of a curve in a vehicle file (open-circuit voltage). */
  points: 1000,
  /** Columns of a table, signals of a table of signals. */
  columns: 20_000,
  signals: 20_000,
  /** Rows of a table, frames of one signal: an analysis holds some ten copies of its longest channel. 55 h at 100 Hz. */
  rows: 20_000_000,
  /** Values that a log may bring in all, 8 bytes each. */
  values: 500_000_000,
  /** Brackets in brackets in a JSON file. */
  nesting: 32,
  /** Bytes of a vehicle file, a map, a table of signals. */
  jsonBytes: 16 * 2 ** 20,
  /** Bytes of a photo or file kept with a car. */
  attachedBytes: 64 * 2 ** 20,
  /** Bytes that one gzip file may unpack to. */
  unpackedBytes: 16 * 2 ** 30,
  /** From the first sample to the last of one drive, s. */
  driveS: 31 * 86_400,
  /** Seconds that `--offset` may add, either way. */
  offsetS: 31 * 86_400,
} as const

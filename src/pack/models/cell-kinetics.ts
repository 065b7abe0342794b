import { type SharedColumns, sharedColumns } from '../../math/many-regressions.ts'
import { picked } from '../../math/picked.ts'
import { times } from '../../math/symmetric.ts'

/**
 * What charge transfer adds to a cell's drop, and how it grows in a cell with fewer working surfaces.
 *
 * Model:  η(i) = A · asinh(q · i), A = 2RT/F an electrode at 25 °C (Butler-Volmer with α = ½), q one over twice the
 *         exchange current; both electrodes alike, or one of them alone where both would be too much. It takes in an
 *         ohmic part K(q) and a bend W(q): resistance that falls as the current
 *         rises. Metal has no bend. A cell whose working surface is 1/r of its peers' has q · r.
 *
 * Figures are those that the regression would find: η at the drive's own currents, fitted on the same columns.
 * Source: textbook electrode kinetics (Newman, Electrochemical Systems), constants CODATA; both from memory.
 */
export interface Kinetics {
  /** Part of the pack's typical ohmic figure that is charge transfer, Ω. */
  readonly ohmicOhm: number
  /** The pack's typical bend, Ω; 0 where none is seen. */
  readonly bendOhm: number
  /** What a cell with `ratio` times the charge transfer shows beyond its peers. */
  grown(ratio: number): { readonly ohmicOhm: number; readonly bendOhm: number }
}

export const NO_KINETICS: Kinetics = {
  ohmicOhm: 0,
  bendOhm: 0,
  grown: () => ({ ohmicOhm: 0, bendOhm: 0 }),
}

/** 2RT/F at 25 °C, V: of one electrode. */
const ELECTRODE_V = (2 * 8.314462618 * 298.15) / 96485.33212
/** Charge transfer of both electrodes alike is believed up to this share of the cell's own figure, beyond it one is slow. */
const MOST = 0.75
/**
 * A bend below this share of the ohmic figure is not taken for charge transfer: warming, filters and lags leave up to
 * ±2.6 % in drives whose cells have none (reference drives and study:pack, 27 November 2026).
 */
const LEAST = 0.03

/** Rows that are enough to see what a curve becomes on these columns. */
const ROWS = 600
/** Steps of q. */
const A_DECADE = 6
/** Values of q that are tried, 1/A: exchange currents of 0.3 A to 3000 A. */
const QS = Array.from({ length: 25 }, (_, j) => 1 / (2 * 3000 * 10 ** (-j / A_DECADE)))

/** The bend's column: a current that saturates about the drive's usual one, what the other columns say taken out. */
export function bendColumn(fast: Float64Array, others: SharedColumns, usualA: number): Float64Array {
  return beyond(
    fast.map((amps) => usualA * Math.asinh(amps / usualA)),
    others,
  ).rest
}

/**
 * @param columns the current first, then all others that the cells are fitted on but the bend
 * @param bend the bend's column; @param bendOhm the pack's typical figure on it, Ω;
 * @param ohmicOhm and on the current
 */
export function kineticsOf(
  columns: SharedColumns,
  bend: Float64Array,
  bendOhm: number,
  ohmicOhm: number,
): Kinetics {
  if (!(bendOhm > LEAST * ohmicOhm) || !columns.inverse) return NO_KINETICS
  const stride = Math.max(1, Math.floor(columns.rows.length / ROWS))
  const some = columns.rows.filter((_, at) => at % stride === 0)
  const pick = (column: Float64Array): Float64Array => picked(column, some)
  const few = sharedColumns(columns.columns.map(pick))
  const both = ofElectrodes(2, few, pick(bend), bendOhm)
  return both.ohmicOhm < MOST * ohmicOhm ? both : ofElectrodes(1, few, pick(bend), bendOhm)
}

function ofElectrodes(count: number, columns: SharedColumns, bend: Float64Array, bendOhm: number): Kinetics {
  const fast = columns.columns[0]!
  let square = 0
  for (const row of columns.rows) square += bend[row]! ** 2
  if (!(square > 0)) return NO_KINETICS
  const found = QS.map((q) => {
    const volts = fast.map((amps) => count * ELECTRODE_V * Math.asinh(q * amps))
    const { first, rest } = beyond(volts, columns)
    let along = 0
    for (const row of columns.rows) along += rest[row]! * bend[row]!
    return { ohmic: first, bend: along / square }
  })
  const at = (j: number): { ohmic: number; bend: number } => {
    const low = Math.max(0, Math.min(QS.length - 2, Math.floor(j)))
    const part = Math.max(0, Math.min(1, j - low))
    const mix = (of: 'ohmic' | 'bend'): number =>
      found[low]![of] + part * (found[low + 1]![of] - found[low]![of])
    return { ohmic: mix('ohmic'), bend: mix('bend') }
  }
  // the bend rises with q: the first place where it is as large as the pack's
  const above = found.findIndex((each) => each.bend >= bendOhm)
  const from = above < 0 ? QS.length - 1 : Math.max(0, above - 1)
  const span = above > 0 ? found[above]!.bend - found[from]!.bend : 0
  const own = from + (span > 0 ? (bendOhm - found[from]!.bend) / span : 0)
  const usual = at(own)
  return {
    ohmicOhm: usual.ohmic,
    bendOhm: usual.bend,
    grown: (ratio) => {
      const more = at(own + A_DECADE * Math.log10(ratio))
      return { ohmicOhm: more.ohmic - usual.ohmic, bendOhm: more.bend - usual.bend }
    },
  }
}

/** A series' coefficient on the first column, and what all columns leave of it (0 in rows that are not used). */
function beyond(
  series: Float64Array,
  { columns, rows, inverse }: SharedColumns,
): {
  first: number
  rest: Float64Array
} {
  const k = columns.length
  const rest = new Float64Array(series.length)
  if (!inverse) return { first: 0, rest }
  const right = columns.map((column) => {
    let sum = 0
    for (const row of rows) sum += column[row]! * series[row]!
    return sum
  })
  const factors = times(inverse, right, k)
  for (const row of rows) {
    let fitted = 0
    for (let a = 0; a < k; a++) fitted += factors[a]! * columns[a]![row]!
    rest[row] = series[row]! - fitted
  }
  return { first: factors[0]!, rest }
}

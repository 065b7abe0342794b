/**
 * When a foot is on the brake, above the sensor's own zero. Common practice, no source.
 *
 *     0 ………… 0.7 ………… 2 ………… 3 bar
 *     released │ not told │ asked │ pressed beyond doubt
 *
 * A start is asked for by a foot that rests on the pedal; a lamp is accused only where no switch's travel excuses it.
 */
export const RELEASED_BAR = 0.7
export const ASKED_BAR = 2
export const PRESSED_BAR = 3
/** Of the pedal's travel, where no pressure is logged, %. */
export const ASKED_PERCENT = 8

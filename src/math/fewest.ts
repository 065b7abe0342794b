/** Of two that differ neither can be called the odd one. */
export const FEWEST_PEERS = 3
/** The median of fewer is one of its readings, or lies wherever one bad reading pulls it. */
export const FEWEST_FOR_MEDIAN = 3
/** A channel with fewer readings shows nothing of a drive. Common practice, no source. */
export const FEWEST_READINGS = 20

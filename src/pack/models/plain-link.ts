/**
 * What the reading of a plain cell holds of busbar and joint beside the cell, and how much it may differ, Ω: common
 * practice, no source.
 */
export const PLAIN_LINK_OHM = 3.5e-5
export const PLAIN_LINK_SPREAD = 1.5e-5

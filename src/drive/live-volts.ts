/** Under it no pack is connected: a sensor of hundreds of volts reads so much of nothing. Common practice, no source. */
export const LIVE_V = 20

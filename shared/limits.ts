/**
 * Limits of every finding: one table, each with its unit and source. Analyses take a `Limits` as an argument so
 * that tests can move them; the vehicle file's figures replace these where it has them.
 */
export interface Limit {
  readonly attention: number | null
  readonly stop: number | null
  readonly unit: string
  readonly source: string
}

/** Direct voltage that may be touched: 60 V (UN R100, 2.17: high voltage is over 60 V and up to 1500 V DC). */
export const TOUCH_V = 60

const PRACTICE = 'common practice, no source'

const limit = (attention: number | null, stop: number | null, unit: string, source = PRACTICE): Limit => ({
  attention,
  stop,
  unit,
  source,
})

export const LIMITS = {
  /** Extra resistance of a joint; attention also asks for `jointSpreads` robust spreads of its peers. */
  joint: limit(0.15, 1, 'mΩ'),
  jointSpreads: limit(5, null, ''),
  cellRatio: limit(1.25, 2, ''),
  restOffset: limit(10, 50, 'mV'),
  /** Healthy cells lose a few percent of charge a month, nearly alike: well under a millivolt a day apart. */
  selfDischarge: limit(5, null, 'mV/day'),
  senseLead: limit(8, null, 'mV'),
  coolingRatio: limit(1.5, null, ''),
  temperatureRise: limit(10, null, '°C/min'),
  /** Over three minutes under a twentieth of the capacity in current. */
  selfHeating: limit(null, 1, '°C/min'),
  frozenTemperaturePeers: limit(3, null, '°C'),
  /** Highest difference of the pedal's tracks held for longer than `pedalMismatchMs`. */
  pedalMismatch: limit(null, 10, 'points', 'Formula Student rules T11.8.8 and T11.8.9; FSAE rules T.4.2.4'),
  pedalMismatchMs: limit(null, 100, 'ms', 'Formula Student rules T11.8.8; FSAE rules T.4.2.5'),
  pedalLowV: limit(null, 0.3, 'V'),
  pedalHighV: limit(null, 4.7, 'V'),
  pedalWithBrakePercent: limit(25, null, '%', 'FSAE rules EV.4.7.1'),
  pedalWithBrakeMs: limit(500, null, 'ms', 'Formula Student rules EV2.3.1'),
  pedalWithBrakeKmh: limit(5, null, 'km/h'),
  releasedTorqueNm: limit(
    null,
    5,
    'N·m',
    'Formula Student rules T11.8.12 (released pedal: torque at most 0)',
  ),
  releasedTorqueS: limit(null, 0.3, 's'),
  releasedTravelPercent: limit(null, 1, '%'),
  isolation: limit(500, 100, 'Ω/V', 'UN R100 5.1.3 (100 Ω/V DC, 500 Ω/V with an AC bus); FSAE EV.7.6.3'),
  lvVoltage: limit(10.5, null, 'V'),
  /** DC-DC converter running: a charged lead battery alone stays under this. */
  dcdcVoltage: limit(13, null, 'V'),
  /** The same of a 12 V battery of four LFP cells (`lv_chemistry`): 3.0 V a cell is nearly empty, 3.35 V is at rest. */
  lvVoltageLfp: limit(12, null, 'V'),
  dcdcVoltageLfp: limit(13.5, null, 'V'),
  /** A heater or cooler that draws so much beyond what was asked. */
  loadStays: limit(100, null, 'W'),
  currentOffset: limit(2.5, null, 'A'),
  socDisagrees: limit(5, null, 'points'),
  /** Share of a charge under 93 % of what the battery unit asked. */
  chargeSlow: limit(10, null, '%'),
  /** A charge that broke off for less may be a contact that was touched. */
  chargeInterruptedS: limit(5, null, 's'),
  mainPath: limit(6, null, 'mΩ'),
  contactorPath: limit(6, null, 'mΩ'),
  boxLink: limit(5, null, 'mΩ'),
  /** A link without peers: heat at the drive's rms current, and times copper of its stated length and section. */
  linkHeat: limit(20, null, 'W'),
  linkCopper: limit(3, null, ''),
  lampDisagreesS: limit(1, null, 's'),
  prechargeReached: limit(
    95,
    null,
    '%',
    'Formula Student rules EV5.7.1 (95 % of the actual battery voltage)',
  ),
  linkDischargeS: limit(5, null, 's', 'FSAE rules EV.7.2.2.c (60 V within 5 s)'),
  regenStartAboveFileBar: limit(2, null, 'bar'),
  regenStartBar: limit(5, null, 'bar'),
  regenLimitedPercent: limit(10, null, '%'),
  regenStepNm: limit(15, null, 'N·m'),
  /** Grip that regeneration alone may need of a driven rear axle. */
  lockGrip: limit(0.25, null, 'grip'),
  nodeSilentS: limit(0.5, null, 's', 'Formula Student rules T11.9.4 (time-out of a safety signal: 500 ms)'),
  logGapS: limit(5, null, 's'),
} as const satisfies Record<string, Limit>

export type Limits = { readonly [name in keyof typeof LIMITS]: Limit }

/** Usual limits by chemistry, where the vehicle file gives none. Source: common practice, no source. */
export const CHEMISTRY: Readonly<
  Record<string, { minV: number; maxV: number; maxC: number; minChargeC: number }>
> = {
  nmc: { minV: 2.8, maxV: 4.2, maxC: 60, minChargeC: 0 },
  nca: { minV: 2.7, maxV: 4.2, maxC: 60, minChargeC: 0 },
  lfp: { minV: 2.5, maxV: 3.65, maxC: 60, minChargeC: 0 },
  lto: { minV: 1.5, maxV: 2.8, maxC: 60, minChargeC: -20 },
}

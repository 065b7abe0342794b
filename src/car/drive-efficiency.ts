/**
 * Share of the power that passes the drive, battery to shaft or back: inverter, motor and gear together, over the loads
 * of ordinary driving. The torque made of battery power and the energy that a limit lost both rest on it. Common
 * practice, no source; ± 0.06 enters the torque's interval.
 */
export const DRIVE_EFFICIENCY = 0.9

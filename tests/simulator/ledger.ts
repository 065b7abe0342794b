/** What the true drive added up to; Wh at the pack's measuring point, heats in Wh. */
export class Ledger {
  outWh = 0
  inWh = 0
  ahOut = 0
  ahIn = 0
  /** Σ over cells of open-circuit voltage times charge. */
  chemicalWh = 0
  /** Ohmic and slow parts: what goes in, the slow parts' stores included. */
  cellHeatWh = 0
  /** Left in the slow parts' capacitors at the end. */
  slowStoreWh = 0
  linkHeatWh = 0
  pathHeatWh = 0
  /** Given to the link (inverter, DC-DC, precharge). */
  deliveredWh = 0
  wheelWh = 0
  frictionWh = 0
  distanceM = 0
  /** Time with the brake pressed and regeneration asked for, and how much of it a limit held it back by over 3 N·m. */
  brakingS = 0
  limitedS = 0

  /** @param held torque that a limit keeps from the request, N·m. */
  braking(dt: number, pressed: boolean, requestNm: number, held: number): void {
    if (!pressed || requestNm > -3) return
    this.brakingS += dt
    if (held > 3) this.limitedS += dt
  }

  /** @param hours the step, h; @param volt at the pack's measuring point. */
  electric(hours: number, volt: number, amps: number): void {
    if (amps > 0) {
      this.outWh += volt * amps * hours
      this.ahOut += amps * hours
    } else {
      this.inWh -= volt * amps * hours
      this.ahIn -= amps * hours
    }
  }
}

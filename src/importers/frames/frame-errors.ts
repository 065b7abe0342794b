/**
 * Error frames as a controller reports them: class bits in the identifier, details in the payload.
 * Source: Linux uapi can/error.h (masks 1 … 0x100; CNT 0x200 and CRTL_ACTIVE 0x40 only in newer kernels).
 */
const CLASSES: readonly (readonly [number, string])[] = [
  [0x001, 'no answer in time'],
  [0x002, 'lost arbitration'],
  [0x004, 'controller'],
  [0x008, 'protocol violation'],
  [0x010, 'transceiver'],
  [0x020, 'no acknowledgement'],
  [0x040, 'bus-off'],
  [0x080, 'bus error'],
  [0x100, 'controller restarted'],
]

const CONTROLLER: readonly (readonly [number, string])[] = [
  [0x01, 'receive buffer overflow'],
  [0x02, 'transmit buffer overflow'],
  [0x04, 'receive error warning'],
  [0x08, 'transmit error warning'],
  [0x10, 'receiver error-passive'],
  [0x20, 'transmitter error-passive'],
  [0x40, 'back to error-active'],
]

/** The report in words: "receiver error-passive", "bus-off". */
export function errorText(classes: number, bytes: DataView, at: number, length: number): string {
  const words: string[] = []
  for (const [bit, word] of CLASSES) {
    if ((classes & bit) === 0) continue
    if (bit !== 0x004 || length < 2) words.push(word)
    else {
      const details = CONTROLLER.filter(([mask]) => (bytes.getUint8(at + 1) & mask) !== 0).map(
        ([, text]) => text,
      )
      words.push(details.length > 0 ? details.join(', ') : word)
    }
  }
  return words.length > 0 ? words.join(', ') : 'of no known class'
}

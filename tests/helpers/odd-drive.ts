import type { Channel, Drive } from '../../shared/drive.ts'
import { smallDrive } from './small-drive.ts'

/** A drive with everything that a channel may hold: doubles of every size, NaN, −0, words, held rows, doubled moments. */
export function oddDrive(): Drive {
  const drive = smallDrive()
  const own = Float64Array.from([0, 0.1, 0.1, 0.1 + 2 ** -50, 1 / 3, 2.5, 59.99, 1e5])
  const plain = {
    unit: 'V',
    fresh: null,
    labels: null,
    file: 'box, two.csv',
    step: 0.001,
    polarity: null,
  }
  const more: Channel[] = [
    {
      ...plain,
      id: 'Über "Wert", =1+1',
      from: 'Über "Wert", =1+1',
      unit: '',
      timeS: own,
      values: Float64Array.from([
        -0,
        0,
        Number.NaN,
        Number.MIN_VALUE,
        -Number.MAX_VALUE,
        0.1 + 0.2,
        2 ** 53 - 1,
        -1e-300,
      ]),
    },
    {
      ...plain,
      id: 'lv_voltage',
      from: 'U12',
      timeS: own,
      fresh: Uint8Array.from([1, 0, 1, 0, 1, 1, 0, 1]),
      values: own.map((t) => 12 + Math.sin(t) / 7),
    },
    {
      ...plain,
      id: 'inverter_state',
      from: 'state',
      unit: '',
      timeS: own.slice(2, 6),
      labels: ['off', 'ready, "now"', 'fault; open', '=on'],
      values: Float64Array.from([0, 3, 1, 2]),
    },
    { ...plain, id: 'time', from: 'time', unit: 's', timeS: own, values: own.map((t) => t * 1000) },
  ]
  const spare: Channel = {
    ...plain,
    id: 'pack_voltage',
    from: 'U_pack (2)',
    timeS: own,
    values: own.map((t) => 400 - t / 1e4),
  }
  return {
    ...drive,
    startedAt: '2026-11-27T08:00:00.250+01:00',
    channels: new Map([...drive.channels, ...more.map((each) => [each.id, each] as const)]),
    spares: [spare],
    reports: [...drive.channels.values(), ...more, spare].map(({ id, file, from, timeS }, at) => ({
      id,
      from: `${file}: ${from}`,
      unit_in: at % 2 ? 'mV' : null,
      conversion: at % 2 ? 'mV ÷ 1000' : 'none',
      samples: timeS.length,
      rate_hz: at % 3 ? 10 / 3 : null,
      gaps: [[1 / 3, 2 / 3]],
      sureness: 1 / (at + 1),
      why: 'its words name it',
    })),
    events: [{ at_s: 1 / 7, what: 'a "clock" step', channel: null }],
    assumptions: ['the sign was proved by sag'],
    buses: [
      {
        file: 'bus.pcap',
        bit_rate: 500000,
        bit_rate_from: 'smallest that fits',
        first_s: 0.001,
        load_percent: [12.5, 1 / 3],
        worst_load_percent: 15,
        error_frames: 1,
        remote_frames: 0,
        nodes: [
          {
            name: 'BMS',
            silent_span_s: [1, 2],
            silences: [{ span_s: [1, 2], at: 'inside' }],
            period_s: 0.01,
            frames: 100,
            late: 1,
            missing: 2,
          },
        ],
        unexplained: [{ identifier: '0x123', count: 7, rate_hz: 1 / 3, changing_bytes: [0, 3] }],
      },
    ],
    doubts: [{ id: 'speed', file: 'drive.csv', from: 'v', factor: 3.6, why: 'too fast' }],
  }
}

import { openLogSource } from '../../src/bytes/file-source.ts'
import { candidatesOf } from '../../src/look/candidates.ts'
import { gatherFrames } from '../../src/look/captured.ts'
import { lookAtMessage, usualOrder } from '../../src/look/look-message.ts'
import type { Proposal } from '../../src/look/proposal.ts'
import { rawValues } from '../../src/look/raw-values.ts'
import { proposeByRelations } from '../../src/look/relations.ts'
import { matchWithLog } from '../../src/look/second-log.ts'
import { openDrive } from '../../src/open/open-drive.ts'
import { generatedMessages } from './look/generated.ts'
import { type Scene, scene } from './look/scene.ts'
import { studyArguments } from './two-models.ts'

/**
 * Frames of both simulators with the table withheld: how many of the main channels are proposed with the right channel,
 * place, order, sign and scale (the decoded values must be the same in every frame), with a second log of the drive and
 * without; and how sure the wrong ones are.
 */
const MAIN =
  /^(pack_voltage|cell_voltage\.\d+|pack_current|inverter_dc_current|speed|motor_speed|torque|torque_request|pedal_track_[12]|pedal_position|brake_pressure|module_temperature\.\d+|inverter_temperature|motor_temperature|coolant_in|coolant_out|link_voltage)$/

interface Tally {
  channels: number
  right: number
  kinds: Map<string, { right: number; all: number }>
  wrong: number
  wrongSure: number
  sure: number
}

const tally = (): Tally => ({ channels: 0, right: 0, kinds: new Map(), wrong: 0, wrongSure: 0, sure: 0 })

function judge(made: Scene, proposals: readonly Proposal[], into: Tally, verbose: boolean): void {
  const judged = new Set<Proposal>()
  let missed = 0
  let wrongs = 0
  for (const message of made.messages)
    message.signals.forEach((signal, at) => {
      const { id } = message.samples[at]!
      const own = proposals.filter(
        ({ candidate: { look, content } }) =>
          (look.message.key & 0x1fffffff) === message.identifier && content.value === message.selector,
      )
      const bits = { startBit: signal.start_bit, length: signal.length, byteOrder: signal.byte_order }
      const want = (proposal: Proposal): Float64Array =>
        rawValues(proposal.candidate.content.message, { ...bits, signed: signal.signed }).map(
          (raw) => raw * signal.factor + signal.offset,
        )
      const equal = (proposal: Proposal): boolean => {
        const wanted = want(proposal)
        return proposal.candidate.raw.every(
          (raw, i) =>
            Math.abs(raw * proposal.factor + proposal.offset - wanted[i]!) <
            1e-6 * (1 + Math.abs(wanted[i]!)),
        )
      }
      const right = own.filter((each) => each.channel === id && equal(each))
      for (const each of right) judged.add(each)
      if (!MAIN.test(id)) return
      const values = message.samples[at]!.values
      if (values.every((value) => value === values[0])) return
      into.channels++
      const kind = id.replace(/\.\d+$/, '')
      const entry = into.kinds.get(kind) ?? { right: 0, all: 0 }
      entry.all++
      if (right.length > 0) {
        into.right++
        entry.right++
      } else if (verbose && missed++ < 14) {
        const near = proposals.find((each) => each.channel === id)
        console.log(
          `   missed ${id} ${signal.identifier} ${signal.start_bit}/${signal.length}/${signal.byte_order} ${signal.factor}` +
            (near
              ? `; proposed at ${near.candidate.spot}/${near.candidate.place.length} ${near.factor} ${near.offset} (${near.sureness.toFixed(2)})`
              : '; nothing proposed'),
        )
      }
      into.kinds.set(kind, entry)
    })
  for (const each of proposals) {
    if (each.sureness > 0.9) into.sure++
    if (judged.has(each)) continue
    into.wrong++
    if (each.sureness > 0.9) into.wrongSure++
    if (verbose && each.sureness > 0.6 && wrongs++ < 8)
      console.log(
        `   wrong ${each.channel} at ${each.candidate.spot}/${each.candidate.place.length}${each.candidate.place.signed ? 's' : 'u'} ${each.factor} ${each.offset} sure ${each.sureness.toFixed(2)} ${each.why}`,
      )
  }
}

function print(what: string, into: Tally): void {
  console.log(
    `${what}: ${into.right} of ${into.channels} main channels right (${((100 * into.right) / into.channels).toFixed(1)} %), ` +
      `wrong ${into.wrong}, of them above 0.9: ${into.wrongSure} (of ${into.sure} so sure)`,
  )
  const kinds = [...into.kinds].map(([kind, { right, all }]) => ({ kind, share: right / all, all }))
  const mean = kinds.reduce((sum, { share }) => sum + share, 0) / kinds.length
  console.log(
    `  each kind counted alike: ${(100 * mean).toFixed(1)} %: ${kinds.map(({ kind, share, all }) => `${kind} ${(100 * share).toFixed(0)} % of ${all}`).join(', ')}`,
  )
}

async function main(): Promise<void> {
  const { count, from, models, words } = studyArguments(process.argv.slice(2), 5)
  for (const line of generatedMessages()) console.log(line)
  const verbose = words.includes('verbose')
  for (const model of models) {
    const withLog = tally()
    const alone = tally()
    let clocks = 0
    for (let seed = from; seed < from + count; seed++) {
      const made = scene(model, seed)
      try {
        const start = performance.now()
        const captured = await gatherFrames(await openLogSource(made.capture))
        const looks = captured.messages.map(lookAtMessage)
        const candidates = candidatesOf(looks, usualOrder(looks) ?? 'little')
        const looked = performance.now()
        const drive = await openDrive([made.log])
        const opened = performance.now()
        const match = matchWithLog(candidates, drive)
        const done = performance.now()
        if (words.includes('fields'))
          for (const { message, counters, checksum, selector } of looks)
            console.log(
              message.key.toString(16),
              JSON.stringify(counters),
              checksum?.kind,
              selector && `${selector.startBit}/${selector.length}: ${selector.values.length}`,
            )
        if (verbose)
          console.log(
            `${model} ${seed}: ${captured.dataFrames} frames, look ${(looked - start).toFixed(0)} ms, match ${(done - opened).toFixed(0)} ms, clock ${match.clock?.offsetS.toFixed(3)} (${made.offsetS.toFixed(3)})`,
          )
        if (match.clock) clocks++
        judge(made, match.proposals, withLog, verbose)
        if (verbose) console.log('  without another log')
        judge(made, proposeByRelations(candidates), alone, verbose)
      } finally {
        made.remove()
      }
    }
    print(`${model}, with a second log`, withLog)
    print(`${model}, without another log`, alone)
    console.log(`  a clock was found for ${clocks} of ${count}`)
  }
}

await main()

import type { Drive } from '../../shared/drive.ts'
import type { LogSource } from '../bytes/file-source.ts'
import type { ByteOrder } from '../importers/frames/signal.ts'
import { type Candidate, candidatesOf } from './candidates.ts'
import { type Captured, gatherFrames } from './captured.ts'
import type { LogClock } from './clock-of-log.ts'
import { lookAtMessage, type MessageLook, usualOrder } from './look-message.ts'
import { type Answering, type Mark, rankByMarks } from './marks.ts'
import type { Proposal } from './proposal.ts'
import { type Protocols, protocolsOf } from './protocols.ts'
import { proposeByRelations } from './relations.ts'
import { matchWithLog } from './second-log.ts'
import { sendersOf, type Timing, timingOf } from './senders.ts'

/** A first look at a bus that nobody described. */
export interface Look {
  readonly captured: Captured
  readonly looks: readonly MessageLook[]
  readonly timings: readonly Timing[]
  /** Guessed senders, a number for each message; −1 unknown. */
  readonly senders: readonly number[]
  /** The byte order that carries prove; null where nothing tells. */
  readonly order: ByteOrder | null
  readonly candidates: readonly Candidate[]
  readonly protocols: Protocols
  readonly clock: LogClock | null
  readonly proposals: readonly Proposal[]
  readonly answering: readonly Answering[]
}

export interface LookOptions {
  /** Another log of the same drive. */
  readonly beside?: Drive | null
  readonly marks?: readonly Mark[]
}

/** Looks at a capture: what each identifier carries, and which rows of a signal table are proposed. Nothing is used. */
export async function lookAt(source: LogSource, options: LookOptions = {}): Promise<Look> {
  const captured = await gatherFrames(source)
  const protocols = protocolsOf(captured.messages)
  const looks = captured.messages.map(lookAtMessage)
  const order = usualOrder(looks)
  const open = looks.filter(({ message }) => !protocols.explained.has(message.key))
  const candidates = candidatesOf(open, order ?? 'little')
  const timings = captured.messages.map(timingOf)
  const matched = options.beside ? matchWithLog(candidates, options.beside) : null
  const proposals = matched?.clock ? matched.proposals : proposeByRelations(candidates)
  return {
    captured,
    looks,
    timings,
    senders: sendersOf(captured.messages, timings),
    order,
    candidates,
    protocols,
    clock: matched?.clock ?? null,
    proposals: [...proposals].sort((a, b) => b.sureness - a.sureness),
    answering: options.marks ? rankByMarks(open, candidates, options.marks) : [],
  }
}

import type { ChannelId, FamilyId } from '../../shared/channels.ts'
import { type Channel, channelNamed, type Drive } from '../../shared/drive.ts'
import type { Limits } from '../../shared/limits.ts'
import type { Reading } from '../../shared/reading.ts'
import type { PackLayout, Vehicle } from '../../shared/vehicle.ts'

/** All that an analysis may know: no file, no clock, no randomness. */
export interface Facts {
  readonly drive: Drive
  readonly vehicle: Vehicle
  readonly layout: PackLayout
  readonly limits: Limits
  /** Channels that only logs on other clocks hold, with their file: logged, and not to be read beside this drive's. */
  readonly elsewhere: ReadonlyMap<string, string>
  /** Taken at the car by a named person; they count as input, as the log does. */
  readonly readings: readonly Reading[]
  /** A model that several analyses need, computed once a drive: `facts.once(packCurrent)`. */
  once<T>(model: (facts: Facts) => T): T
}

export function channel(facts: Facts, id: ChannelId): Channel | undefined {
  return facts.drive.channels.get(id)
}

/** All channels of a numbered family in ascending number: `cell_voltage` → cell_voltage.1 … .N. */
export function family(facts: Facts, id: FamilyId): { number: number; channel: Channel }[] {
  const found: { number: number; channel: Channel }[] = []
  for (const each of facts.drive.channels.values())
    if (each.id.startsWith(`${id}.`))
      found.push({ number: Number(each.id.slice(id.length + 1)), channel: each })
  return found.sort((a, b) => a.number - b.number)
}

/** How a channel that is not among the drive's is spoken of: `not logged`, or that it stands on another clock. */
export function absence({ elsewhere }: Pick<Facts, 'elsewhere'>, ids: readonly AnyId[]): string {
  const files = [...new Set(ids.flatMap((id) => elsewhere.get(id) ?? []))]
  return files.length > 0 ? `in ${files.join(' and ')}, on another clock` : 'not logged'
}

/** Any name of ours: a channel, or a family of channels as a whole. */
export type AnyId = ChannelId | FamilyId

/** Those of the channels that the log holds. */
export const logged = <Id extends string>({ drive }: Facts, ids: readonly Id[]): Id[] =>
  ids.filter((id) => channelNamed(drive.channels, id) !== undefined)

/** Those of the channels that the log does not hold; of a family one is enough. */
export const unlogged = <Id extends AnyId>({ drive: { channels } }: Facts, ids: readonly Id[]): Id[] =>
  ids.filter(
    (id) => !channelNamed(channels, id) && ![...channels.keys()].some((each) => each.startsWith(`${id}.`)),
  )

import { currentFolder } from '../library/generations.ts'
import { openChannels } from '../library/library.ts'
import type { Place } from '../library/place.ts'
import type { ChannelReader } from '../library/read-channels.ts'
import { Replays } from './replays.ts'

/** Stored drives in use: a few readers stay open, and what replays keep. */
export class OpenDrives {
  readonly #place: Place
  readonly #readers = new Map<string, ChannelReader>()
  readonly replays: Replays
  static readonly KEPT = 3

  constructor(place: Place) {
    this.#place = place
    this.replays = new Replays(place.dataDir)
  }

  reader(id: string): ChannelReader {
    const known = this.#readers.get(id)
    // Replaced by another program meanwhile: what is open is the reading before.
    if (known && known.dir !== currentFolder(this.#place, id)) this.forget(id)
    else if (known) {
      this.#readers.delete(id)
      this.#readers.set(id, known)
      return known
    }
    const reader = openChannels(this.#place, id)
    this.#readers.set(id, reader)
    for (const oldest of this.#readers.keys()) {
      if (this.#readers.size <= OpenDrives.KEPT) break
      this.forget(oldest)
    }
    return reader
  }

  /** To be called when a drive was removed or replaced. */
  forget(id: string): void {
    this.#readers.get(id)?.close()
    this.#readers.delete(id)
    this.replays.forget(id)
  }

  close(): void {
    for (const id of [...this.#readers.keys()]) this.forget(id)
    this.replays.close()
  }
}

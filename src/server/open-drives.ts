import { loadDrive, openChannels, showDrive } from '../library/library.ts'
import type { Place } from '../library/place.ts'
import type { ChannelReader } from '../library/read-channels.ts'
import type { ReplayModel } from '../models/replay-model.ts'
import { prepareReplay } from './replay-drive.ts'

/** Stored drives in use: a few readers stay open, the last drive replayed stays ready for the next slider move. */
export class OpenDrives {
  readonly #place: Place
  readonly #readers = new Map<string, ChannelReader>()
  #replayed: { id: string; model: ReplayModel | null } | null = null
  static readonly KEPT = 3

  constructor(place: Place) {
    this.#place = place
  }

  reader(id: string): ChannelReader {
    const known = this.#readers.get(id)
    if (known) {
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

  /** The first call for a drive reads all of it; null where the drive cannot be replayed. */
  replayModel(id: string): ReplayModel | null {
    if (this.#replayed?.id !== id) {
      const { vehicle } = showDrive(this.#place, id)
      this.#replayed = { id, model: prepareReplay(loadDrive(this.#place, id), vehicle) }
    }
    return this.#replayed.model
  }

  /** To be called when a drive was removed or replaced. */
  forget(id: string): void {
    this.#readers.get(id)?.close()
    this.#readers.delete(id)
    if (this.#replayed?.id === id) this.#replayed = null
  }

  close(): void {
    for (const id of [...this.#readers.keys()]) this.forget(id)
  }
}

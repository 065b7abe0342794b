import type { Drive } from '../../shared/drive.ts'
import { loadDrive, openChannels } from '../library/library.ts'
import type { Place } from '../library/place.ts'
import type { ChannelReader } from '../library/read-channels.ts'

/** Stored drives in use: a few readers stay open, the last drive asked for a replay stays in memory. */
export class OpenDrives {
  readonly #place: Place
  readonly #readers = new Map<string, ChannelReader>()
  #loaded: { id: string; drive: Drive } | null = null
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

  drive(id: string): Drive {
    if (this.#loaded?.id !== id) this.#loaded = { id, drive: loadDrive(this.#place, id) }
    return this.#loaded.drive
  }

  /** To be called when a drive was removed or replaced. */
  forget(id: string): void {
    this.#readers.get(id)?.close()
    this.#readers.delete(id)
    if (this.#loaded?.id === id) this.#loaded = null
  }

  close(): void {
    for (const id of [...this.#readers.keys()]) this.forget(id)
  }
}

import { fileURLToPath } from 'node:url'
import { isMainThread, parentPort, Worker, workerData } from 'node:worker_threads'
import type { ReplayAnswer } from '../../shared/api.ts'
import type { RegenMap } from '../../shared/review.ts'
import type { ReplayModel } from '../brake/models/replay-model.ts'
import { loadDrive, showDrive } from '../library/library.ts'
import { openPlace } from '../library/place.ts'
import { prepareReplay, replayAnswer } from './replay-drive.ts'

/** Answers for one drive, one map after the other; null where the drive cannot be replayed. */
interface Replayer {
  answer(map: RegenMap): Promise<ReplayAnswer | null>
  close(): void
}

/**
 * Replays of stored drives. Reading a drive for its first replay takes up to a second for some minutes of log, so it is
 * done in a worker that stays for the next slider move: the server goes on answering. The last drive alone is kept.
 */
export class Replays {
  readonly #dataDir: string
  #kept: { readonly id: string; readonly replayer: Replayer } | null = null

  constructor(dataDir: string) {
    this.#dataDir = dataDir
  }

  /** @throws LogError where there is no such drive */
  answer(id: string, map: RegenMap): Promise<ReplayAnswer | null> {
    if (this.#kept?.id !== id) {
      showDrive(openPlace(this.#dataDir), id)
      this.#kept?.replayer.close()
      this.#kept = { id, replayer: replayer(this.#dataDir, id) }
    }
    return this.#kept.replayer.answer(map)
  }

  /** To be called when a drive was removed or replaced. */
  forget(id: string): void {
    if (this.#kept?.id === id) this.close()
  }

  close(): void {
    this.#kept?.replayer.close()
    this.#kept = null
  }
}

const HERE = fileURLToPath(import.meta.url)

/** In a worker; from TypeScript sources (tests), where a worker cannot load them, in this thread. */
function replayer(dataDir: string, id: string): Replayer {
  return HERE.endsWith('.js') ? inWorker(dataDir, id) : inThread(dataDir, id)
}

function inThread(dataDir: string, id: string): Replayer {
  let model: ReplayModel | null | undefined
  return {
    async answer(map) {
      model ??= modelOf(dataDir, id)
      return model && replayAnswer(model, map)
    },
    close() {},
  }
}

function inWorker(dataDir: string, id: string): Replayer {
  const worker = new Worker(HERE, { workerData: { aftermileReplay: { dataDir, id } } })
  const waiting: { resolve: (answer: ReplayAnswer | null) => void; reject: (error: Error) => void }[] = []
  let ended: Error | null = null
  const end = (error: Error) => {
    ended ??= error
    for (const each of waiting.splice(0)) each.reject(ended)
  }
  worker.unref()
  let closing = false
  worker.on('message', (answer: ReplayAnswer | null) => {
    waiting.shift()?.resolve(answer)
    if (closing && waiting.length === 0) void worker.terminate()
  })
  worker.on('error', end)
  worker.on('exit', () => end(new Error('the replay ended without an answer')))
  return {
    answer(map) {
      if (ended) return Promise.reject(ended)
      return new Promise((resolve, reject) => {
        waiting.push({ resolve, reject })
        worker.postMessage(map)
      })
    },
    /** What was asked is still answered. */
    close() {
      closing = true
      if (waiting.length === 0) void worker.terminate()
    },
  }
}

function modelOf(dataDir: string, id: string): ReplayModel | null {
  const place = openPlace(dataDir)
  return prepareReplay(loadDrive(place, id), showDrive(place, id).vehicle)
}

if (!isMainThread && parentPort && workerData?.aftermileReplay) {
  const port = parentPort
  const { dataDir, id } = workerData.aftermileReplay as { dataDir: string; id: string }
  const own = inThread(dataDir, id)
  port.on('message', async (map: RegenMap) => port.postMessage(await own.answer(map)))
}

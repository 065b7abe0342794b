import { fileURLToPath } from 'node:url'
import { isMainThread, parentPort, workerData } from 'node:worker_threads'
import { buildDrive } from '../drive/build-drive.ts'
import { LogError } from '../errors.ts'
import { readLogs } from '../open/read-logs.ts'
import { writeDriveFile } from '../out/write-out.ts'
import { inWorker } from './in-worker.ts'
import { showDrive } from './library.ts'
import type { Place } from './place.ts'

/**
 * Writes a stored drive as one file to send, made from its own logs again: to the last digit, second readings
 * included, where the store keeps samples only as fine as they are sure. Gives the path.
 */
export async function sendDrive(place: Place, id: string, path: string): Promise<string> {
  const { logs, signals, map, offsets, corrections, vehicle } = showDrive(place, id)
  const raw = await readLogs(logs, {
    ...(signals === undefined ? {} : { signals }),
    ...(map === undefined ? {} : { map }),
    remembered: () => corrections,
  })
  await writeDriveFile(path, buildDrive(raw, { vehicle, offsets }), vehicle)
  return path
}

/** The same beside the server's own work; from TypeScript sources, where a worker cannot load them, in this thread. */
export function sendInWorker(place: Place, id: string, path: string): Promise<string> {
  const here = fileURLToPath(import.meta.url)
  if (!here.endsWith('.js')) return sendDrive(place, id, path)
  return inWorker<{ path: string } | { code: string; sentence: string }, string>(
    here,
    { aftermileSend: { place, id, path } },
    (answer, end) =>
      'path' in answer ? end.done(answer.path) : end.failed(new LogError(answer.code, answer.sentence)),
    (why) => new Error(why),
  )
}

if (!isMainThread && parentPort && workerData?.aftermileSend) {
  const port = parentPort
  const { place, id, path } = workerData.aftermileSend as { place: Place; id: string; path: string }
  sendDrive(place, id, path).then(
    () => port.postMessage({ path }),
    (error: unknown) => {
      if (!(error instanceof LogError)) throw error
      port.postMessage({ code: error.code, sentence: error.message })
    },
  )
}

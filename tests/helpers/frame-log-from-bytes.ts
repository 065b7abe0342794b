import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import type { RawLog } from '../../shared/raw-log.ts'
import { openLogSource } from '../../src/bytes/file-source.ts'
import { readLog } from '../../src/importers/registry.ts'

/** Bytes or text as a log, read as the program reads a file; `signals` is a table's rows or its text. */
export async function frameLogFromBytes(
  bytes: Uint8Array | string,
  signals?: readonly object[] | string,
  options: { readonly gzip?: boolean } = {},
): Promise<RawLog> {
  const folder = mkdtempSync(join(tmpdir(), 'log-'))
  try {
    const path = join(folder, 'drive.log')
    writeFileSync(path, options.gzip ? gzipSync(bytes) : bytes)
    if (signals === undefined) return await readLog(await openLogSource(path), {})
    const table = join(folder, 'signals')
    writeFileSync(table, typeof signals === 'string' ? signals : JSON.stringify({ signals }))
    return await readLog(await openLogSource(path), { signals: table })
  } finally {
    rmSync(folder, { recursive: true })
  }
}

export const hex = (text: string): Uint8Array => Uint8Array.from(Buffer.from(text.replace(/\s+/g, ''), 'hex'))

/** A signal row of eight whole bytes' worth, to show what was read of a frame. */
export const byteSignals = (identifier: string | number, bytes: number, extended?: boolean): object[] =>
  Array.from({ length: bytes }, (_, k) => ({
    identifier,
    name: `byte ${k} of ${identifier}`,
    start_bit: 8 * k,
    length: 8,
    byte_order: 'little',
    ...(extended === undefined ? {} : { extended }),
  }))

export const valuesOf = (log: RawLog): number[][] => log.series.map((series) => [...series.values])

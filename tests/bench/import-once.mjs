/**
 * One import in a fresh process: `node import-once.mjs METHOD FILE ROWS COLUMNS FOLDER`. Prints one line of JSON with
 * the milliseconds from file path to finished columns (loading the library included), the processor time of
 * all its threads (which other work on the machine stretches less), the process's peak memory, and
 * a sum over all values with their count, so that all methods are held to the same result.
 *
 * Other parsers fill one Float64Array a column, NaN where a field is empty.
 */
import { closeSync, createReadStream, openSync, readSync } from 'node:fs'
import { open } from 'node:fs/promises'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'

const [, , method, file, rowsText, columnsText, folder] = process.argv
const rows = Number(rowsText)
const columns = Number(columnsText)
const peers = createRequire(join(folder, 'peers', 'package.json'))
const fromPeers = (name) => import(pathToFileURL(peers.resolve(name)).href)

const fresh = () => Array.from({ length: columns }, () => new Float64Array(rows).fill(Number.NaN))
const keep = (out, row, fields) => {
  for (let c = 0; c < columns; c++) if (fields[c] !== '') out[c][row] = Number(fields[c])
}

const METHODS = {
  async ours() {
    const { openLogSource } = await import(pathToFileURL(join(folder, 'dist/src/bytes/file-source.js')).href)
    const { readWideCsv } = await import(
      pathToFileURL(join(folder, 'dist/src/importers/table/wide-csv.js')).href
    )
    // The file's SHA-256 is no part of reading it: `hash` below is timed by itself.
    const log = await readWideCsv({ ...(await openLogSource(file)), sha256: async () => '' })
    return [
      ...log.series.map((series) => series.values),
      log.series.find((series) => series.timeS.length === rows).timeS,
    ]
  },
  async 'csv-parse'() {
    const { parse } = await import('csv-parse')
    const out = fresh()
    let row = 0
    for await (const fields of createReadStream(file, { highWaterMark: 1 << 20 }).pipe(
      parse({ from_line: 2 }),
    ))
      keep(out, row++, fields)
    return out
  },
  async udsv() {
    const { inferSchema, initParser } = await fromPeers('udsv')
    const out = fresh()
    let parser = null
    let row = 0
    const decoder = new TextDecoder()
    const take = (fields) => {
      for (let c = 0; c < columns; c++) {
        const value = fields[c]
        if (typeof value === 'number') out[c][row] = value
        else if (value !== null && value !== undefined && value !== '') out[c][row] = Number(value)
      }
      row++
    }
    for await (const chunk of createReadStream(file, { highWaterMark: 1 << 20 })) {
      const text = decoder.decode(chunk, { stream: true })
      parser ??= initParser(inferSchema(text))
      parser.chunk(text, parser.typedArrs, take)
    }
    parser.end()
    return out
  },
  async 'd3-dsv'() {
    const { csvParseRows } = await fromPeers('d3-dsv')
    const { readFile } = await import('node:fs/promises')
    const out = fresh()
    csvParseRows(await readFile(file, 'utf8'), (fields, row) => {
      if (row > 0) keep(out, row - 1, fields)
      return null
    })
    return out
  },
  async duckdb() {
    const { DuckDBInstance } = await fromPeers('@duckdb/node-api')
    const out = fresh()
    const connection = await (await DuckDBInstance.create(':memory:')).connect()
    const types = Array.from({ length: columns }, (_, c) => `'c${c}': 'DOUBLE'`).join(', ')
    const result = await connection.stream(
      `SELECT * FROM read_csv('${file}', header = true, delim = ',', columns = {${types}})`,
    )
    let row = 0
    for (;;) {
      const chunk = await result.fetchChunk()
      if (!chunk || chunk.rowCount === 0) break
      for (let c = 0; c < columns; c++) {
        const vector = chunk.getColumnVector(c)
        const { items } = vector
        for (let i = 0; i < chunk.rowCount; i++) if (vector.validity.itemValid(i)) out[c][row + i] = items[i]
      }
      row += chunk.rowCount
    }
    return out
  },
  async touch() {
    return Array.from({ length: columns }, (_, c) => new Float64Array(rows).fill(c + 1))
  },
  /** What no reader into such columns can go below: each byte looked at once in JavaScript, each value's place written. */
  async looking() {
    const handle = openSync(file, 'r')
    const buffer = new Uint8Array(1 << 20)
    const out = Array.from({ length: columns }, () => new Float64Array(rows))
    let row = -1
    let column = 0
    for (;;) {
      const bytesRead = readSync(handle, buffer, 0, buffer.length, null)
      if (bytesRead === 0) break
      for (let at = 0; at < bytesRead; at++) {
        const byte = buffer[at]
        if (byte !== 44 && byte !== 10) continue
        if (row >= 0) out[column][row] = at
        column++
        if (byte === 10) {
          row++
          column = 0
        }
      }
    }
    closeSync(handle)
    return out
  },
  async newlines() {
    const handle = await open(file)
    const buffer = Buffer.alloc(1 << 20)
    let count = 0
    for (;;) {
      const { bytesRead } = await handle.read(buffer, 0, buffer.length)
      if (bytesRead === 0) break
      const part = buffer.subarray(0, bytesRead)
      for (let at = part.indexOf(10); at >= 0; at = part.indexOf(10, at + 1)) count++
    }
    await handle.close()
    return [Float64Array.of(count)]
  },
  async hash() {
    const { createHash } = await import('node:crypto')
    const hash = createHash('sha256')
    for await (const chunk of createReadStream(file, { highWaterMark: 1 << 20 })) hash.update(chunk)
    return [Float64Array.of(hash.digest()[0])]
  },
}

const start = performance.now()
const used = process.cpuUsage()
const out = await METHODS[method]()
const ms = performance.now() - start
const { user, system } = process.cpuUsage(used)
const cpuMs = (user + system) / 1000
let sum = 0
let count = 0
for (const values of out)
  for (const value of values)
    if (!Number.isNaN(value)) {
      sum += value
      count++
    }
console.log(JSON.stringify({ ms, cpuMs, peakMb: process.resourceUsage().maxRSS / 1024, sum, count }))

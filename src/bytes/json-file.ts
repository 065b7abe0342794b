import { readFileSync, statSync } from 'node:fs'
import { BOUNDS } from '../../shared/bounds.ts'
import { LogError } from '../errors.ts'

/** What a small JSON file beside the logs is, for its errors. */
export interface JsonKind {
  readonly code: string
  /** Such as "a vehicle file (JSON)". */
  readonly expected: string
}

/** Reads a JSON file beside the logs: with or without a byte-order mark, UTF-8 or UTF-16. @throws LogError one sentence */
export function readJsonFile(path: string, kind: JsonKind): unknown {
  let bytes: Uint8Array
  try {
    const { size } = statSync(path)
    if (size > BOUNDS.jsonBytes) throw tooLarge(path, size, kind)
    bytes = readFileSync(path)
  } catch (error) {
    if (error instanceof LogError) throw error
    const { code } = error as NodeJS.ErrnoException
    const why = code === 'ENOENT' ? 'there is no such file' : `cannot be read (${code ?? error})`
    throw new LogError(kind.code, `${path}: ${why}; ${kind.expected} was expected.`)
  }
  return parseJson(bytes, path, kind)
}

/** @param name what the file is called in the error's sentence */
export function parseJson(bytes: Uint8Array, name: string, kind: JsonKind): unknown {
  if (bytes.length > BOUNDS.jsonBytes) throw tooLarge(name, bytes.length, kind)
  return parseJsonText(textOf(bytes), name, kind)
}

export function parseJsonText(text: string, name: string, kind: JsonKind): unknown {
  if (depthOf(text) > BOUNDS.nesting)
    throw new LogError(
      kind.code,
      `${name}: has brackets in brackets more than ${BOUNDS.nesting} deep; ${kind.expected} was expected.`,
    )
  try {
    return JSON.parse(text.replace(/^\uFEFF/, ''))
  } catch (error) {
    throw new LogError(
      kind.code,
      `${name}: is no JSON (${(error as Error).message}); ${kind.expected} was expected.`,
    )
  }
}

const tooLarge = (name: string, bytes: number, { code, expected }: JsonKind): LogError =>
  new LogError(
    code,
    `${name}: has ${bytes} bytes; ${expected} of at most ${BOUNDS.jsonBytes} bytes was expected.`,
  )

/** By its mark, else by where its zero bytes stand: JSON begins with an ASCII character. */
export function textOf(bytes: Uint8Array): string {
  const [first, second] = bytes
  if ((first === 0xff && second === 0xfe) || (first !== 0 && second === 0))
    return new TextDecoder('utf-16le').decode(bytes)
  if ((first === 0xfe && second === 0xff) || (first === 0 && second !== 0))
    return new TextDecoder('utf-16be').decode(bytes)
  return new TextDecoder('utf-8').decode(bytes)
}

/** How deep brackets stand in brackets, outside of text. */
function depthOf(text: string): number {
  let depth = 0
  let deepest = 0
  let inText = false
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i)
    if (inText) {
      if (code === 92) i++
      else if (code === 34) inText = false
    } else if (code === 34) inText = true
    else if (code === 91 || code === 123) deepest = Math.max(deepest, ++depth)
    else if (code === 93 || code === 125) depth--
  }
  return deepest
}

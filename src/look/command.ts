import { readFile } from 'node:fs/promises'
import { openLogSource } from '../bytes/file-source.ts'
import { LogError } from '../errors.ts'
import { openDrive } from '../open/open-drive.ts'
import { lookAt } from './look.ts'
import { lookJson, lookText, proposedTable } from './look-text.ts'
import { parseMarks } from './marks.ts'

export interface LookCommand {
  readonly beside?: string | undefined
  /** `brake=12.5,30.1`, or the path of a file with one such line a control. */
  readonly mark?: readonly string[] | undefined
  readonly json?: boolean | undefined
  readonly least?: string | undefined
}

/** `aftermile look CAPTURE`: gives the text, and the table of proposed rows that are at least so sure. */
export async function runLook(
  paths: readonly string[],
  options: LookCommand,
): Promise<{ readonly text: string; readonly table: string }> {
  const [path, more] = paths
  if (path === undefined || more !== undefined)
    throw new LogError(
      'usage',
      `aftermile look: ${paths.length} captures were named; one was expected, such as aftermile look bus.pcap.`,
    )
  const least = options.least === undefined ? 0.5 : Number(options.least)
  if (!(least >= 0 && least <= 1))
    throw new LogError(
      'usage',
      `aftermile look: --least ${options.least} is no sureness; 0 to 1 was expected.`,
    )
  const marks = parseMarks(await markTexts(options.mark ?? []))
  const source = await openLogSource(path)
  const beside = options.beside === undefined ? null : await openDrive([options.beside])
  const look = await lookAt(source, { beside, marks })
  return {
    text: options.json ? lookJson(look) : lookText(look, marks.length > 0 ? 'marks' : ''),
    table: proposedTable(look, least),
  }
}

/** A mark without "=" is a file of marks, a line each. */
async function markTexts(marks: readonly string[]): Promise<string[]> {
  const texts: string[] = []
  for (const mark of marks) {
    if (mark.includes('=')) {
      texts.push(mark)
      continue
    }
    let file: string
    try {
      file = (await readFile(mark)).subarray(0, 1 << 20).toString('utf8')
    } catch {
      throw new LogError(
        'usage',
        `${mark}: there is no such file; marks, a line each such as brake=12.5,30.1, were expected.`,
      )
    }
    texts.push(
      ...file
        .split(/\r?\n/)
        .map((line) => line.trim())
        .filter((line) => line !== '' && !line.startsWith('#')),
    )
  }
  return texts
}

import { LogError } from '../errors.ts'
import { comparisonText, listText, showText } from './command-text.ts'
import { compareDrives } from './compare-drives.ts'
import { drivesIn, exportDrive, removeDrive, showDrive } from './library.ts'
import { openPlace } from './place.ts'

/** `aftermile library …`: lists, shows, removes, exports stored drives; compares two. Gives the exit status. */
export async function runLibrary(
  positionals: readonly string[],
  values: { readonly data?: string | undefined; readonly json?: boolean | undefined },
  write: (text: string) => unknown,
): Promise<number> {
  const place = openPlace(values.data)
  const [command = 'list', ...rest] = positionals
  const say = (value: unknown, text: () => string) =>
    write(values.json ? `${JSON.stringify(value, null, 1)}\n` : text())
  const want = (count: number, what: string) => {
    if (rest.length !== count)
      throw new LogError('usage', `aftermile library ${command}: ${rest.length} given, ${what} expected.`)
  }
  switch (command) {
    case 'list': {
      want(0, 'nothing more')
      const drives = drivesIn(place)
      say(drives, () => listText(drives))
      return 0
    }
    case 'show': {
      want(1, 'one id')
      const shown = showDrive(place, rest[0]!)
      say(shown.review, () => showText(shown))
      return 0
    }
    case 'remove':
      want(1, 'one id')
      removeDrive(place, rest[0]!)
      say({ removed: rest[0] }, () => `removed ${rest[0]}\n`)
      return 0
    case 'export': {
      want(2, 'an id and a folder')
      const written = exportDrive(place, rest[0]!, rest[1]!)
      say(written, () => `${written.join('\n')}\n`)
      return 0
    }
    case 'compare': {
      want(2, 'two ids')
      const before = showDrive(place, rest[0]!)
      const after = showDrive(place, rest[1]!)
      const comparison = compareDrives(before.review, after.review)
      say(comparison, () =>
        comparisonText(before.stored.summary.title, after.stored.summary.title, comparison),
      )
      return 0
    }
    default:
      throw new LogError(
        'usage',
        `aftermile library: there is no "${command}"; list, show, remove, export or compare was expected.`,
      )
  }
}

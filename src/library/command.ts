import { LogError } from '../errors.ts'
import { comparisonText, listText, showText } from './command-text.ts'
import { compareDrives } from './compare-drives.ts'
import { drivesIn, exportDrive, removeDrive, showDrive } from './library.ts'
import { openPlace } from './place.ts'
import { type DriveSearch, searchDrives } from './search.ts'
import { sendDrive } from './send-drive.ts'

/** `aftermile library …`: lists, shows, removes, exports stored drives; compares two. Gives the exit status. */
export async function runLibrary(
  positionals: readonly string[],
  values: DriveSearch & { readonly data?: string | undefined; readonly json?: boolean | undefined },
  write: (text: string) => unknown,
): Promise<number> {
  const place = openPlace(values.data)
  const [command = 'list', ...rest] = positionals
  const say = (value: unknown, text: () => string) =>
    write(values.json ? `${JSON.stringify(value, null, 1)}\n` : text())
  const want = (count: number, what: string) => {
    if (rest.length !== count)
      throw new LogError(
        'usage',
        `aftermile library ${command}: ${rest.length === 0 ? 'nothing' : rest.join(' ')} was given; ${what} expected.`,
      )
  }
  /** The id at that place, which must be a stored drive's. */
  const drive = (at: number): string => {
    if (!drivesIn(place).some(({ id }) => id === rest[at]))
      throw new LogError(
        'no-such-drive',
        `aftermile library ${command}: no stored drive has the id "${rest[at]}"; aftermile library list shows them.`,
      )
    return rest[at]!
  }
  switch (command) {
    case 'list': {
      want(0, 'nothing more was')
      const drives = searchDrives(drivesIn(place), values)
      say(drives, () => listText(drives))
      return 0
    }
    case 'show': {
      want(1, 'one id was')
      const shown = showDrive(place, drive(0))
      say(shown.review, () => showText(shown))
      return 0
    }
    case 'remove':
      want(1, 'one id was')
      removeDrive(place, drive(0))
      say({ removed: rest[0] }, () => `removed ${rest[0]}\n`)
      return 0
    case 'export': {
      want(2, 'an id and a folder, or a file that ends in .parquet, were')
      const id = drive(0)
      const written = /\.parquet$/i.test(rest[1]!)
        ? [await sendDrive(place, id, rest[1]!)]
        : exportDrive(place, id, rest[1]!)
      say(written, () => `${written.join('\n')}\n`)
      return 0
    }
    case 'compare': {
      want(2, 'two ids were')
      const before = showDrive(place, drive(0))
      const after = showDrive(place, drive(1))
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

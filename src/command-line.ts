import { parseArgs } from 'node:util'
import { LogError } from './errors.ts'

export const USAGE = `aftermile reviews the logs of a drive: what speaks against handing the car over, and what to look at next.

  aftermile review LOG… [--vehicle FILE] [--signals FILE] [--map FILE] [--offset SECONDS]… [--readings FILE]
                        [--json] [--full] [--table NAME] [--report OUT.html] [--save] [--with CAR] [--data DIR]
                        [--out FILE.parquet | --out FOLDER [--format parquet|csv|json]]
  aftermile channels LOG… [--signals FILE] [--map FILE] [--json]
  aftermile look CAPTURE [--beside LOG] [--mark NAME=S,S]… [--json] [--out SIGNALS.json [--least SURENESS]]
  aftermile serve [--data DIR] [--port N]
  aftermile batch FOLDER… [--out DIR] [--group auto|clock|name|folder|file | --groups FILE] [--cores N]
                        [--vehicle FILE] [--signals FILE] [--map FILE] [--wait SECONDS] [--json]
                        [--queue URL [--shared FOLDER]]
  aftermile worker --queue URL [--shared FOLDER] [--cores N] [--silence SECONDS]
  aftermile library list | show ID | remove ID | export ID DIR | compare ID ID   [--data DIR] [--json]

  aftermile library list [--car NAME] [--kit NAME] [--from DAY] [--to DAY] [--finding WORD] [--verdict STATE] [--text WORDS]
  aftermile car [NAME [show]]                      every car; one car's record
  aftermile car NAME looked-at | mended | accepted | open FINDING --by WHO [--reason TEXT]
                        [--before N] [--after N] [--unit mΩ] [--date YYYY-MM-DD]
  aftermile car NAME reading KIND PLACE VALUE UNIT | note TEXT | attach FILE | tried MAP  --by WHO
  aftermile car NAME drives | kit [--json]         its figures over its drives; beside the other cars of its kit
  aftermile car NAME handover | customer | wishes [OUT.html] [--json]   papers, to print and as data

  LOG             CSV, pcap or pcapng, gzip or not; several logs are one drive
  --vehicle FILE  how the car is built (JSON); what it leaves out is learned from the log
  --signals FILE  what the bits of CAN frames mean (JSON, CSV or an AUTOSAR system description)
  --map FILE      what columns are, by their names (JSON)
  --readings FILE what was measured at the car (JSON): kind, place, value, unit, date, by
  --offset S      seconds to add to the second, third … log's own time, where the logs share nothing
  --beside LOG    another log of the same drive: what moves like its channels is proposed
  --mark NAME=S   moments (s of the capture) at which a control was moved; or a file, a line a control
  --least S       0 to 1: only rows at least so sure are written (else 0.5)
  --full          everything asked as well, not only what was found
  --table NAME    cells, modules, brake-applications or starts, as CSV
  --report FILE   the hand-over sheet, to print
  --out PATH      FILE.parquet: the drive in one file, to send; a folder: every table, channels among them;
                  of look: the proposed rows as a signal table; of batch: the folder of results
  --group HOW     which logs are one drive: all that tells (auto), or one thing alone; --groups: a list (JSON)
  --cores N       drives reviewed at once; else as many as the machine has cores
  --wait S        how long a full disk is waited for; else 600
  --queue URL     redis://host:port of the queue that batch and workers share
  --shared DIR    the folder that holds logs and results, where machines see it at different paths
  --silence S     a worker that is silent for so long is taken for gone; else 30
  --with CAR      beside that car's stored drives, and the other cars of its kit
  --save          keeps the drive for the page and the library
  --trace         where the program itself fails: the trace as well
  --profile       where the time of the review went, on standard error
  --version       which version this is
  --data DIR      where drives are kept; else $AFTERMILE_DATA, else ~/.local/share/aftermile

Exit status of review: 0 no stop finding among the questions assessed; 1 at least one stop finding;
2 unusable arguments or input; 3 too little assessed to conclude (start, pedal or pack unseen);
4 the program itself failed. Of batch: 4 and 2 where that holds of a drive, else 1, 3, 0.
`

export const OPTIONS = {
  vehicle: { type: 'string' },
  readings: { type: 'string' },
  signals: { type: 'string' },
  map: { type: 'string' },
  offset: { type: 'string', multiple: true },
  json: { type: 'boolean' },
  full: { type: 'boolean' },
  trace: { type: 'boolean' },
  table: { type: 'string' },
  report: { type: 'string' },
  out: { type: 'string' },
  format: { type: 'string' },
  save: { type: 'boolean' },
  profile: { type: 'boolean' },
  data: { type: 'string' },
  beside: { type: 'string' },
  mark: { type: 'string', multiple: true },
  least: { type: 'string' },
  with: { type: 'string' },
  by: { type: 'string' },
  date: { type: 'string' },
  reason: { type: 'string' },
  before: { type: 'string' },
  after: { type: 'string' },
  unit: { type: 'string' },
  finding: { type: 'string' },
  car: { type: 'string' },
  kit: { type: 'string' },
  from: { type: 'string' },
  to: { type: 'string' },
  verdict: { type: 'string' },
  text: { type: 'string' },
  port: { type: 'string' },
  queue: { type: 'string' },
  shared: { type: 'string' },
  group: { type: 'string' },
  groups: { type: 'string' },
  cores: { type: 'string' },
  wait: { type: 'string' },
  silence: { type: 'string' },
  help: { type: 'boolean', short: 'h' },
  version: { type: 'boolean' },
} as const

export type Values = ReturnType<typeof parse>['values']

/** Which options each command takes; another one is an error that says so. */
export const TAKES: Readonly<Record<string, readonly (keyof typeof OPTIONS)[]>> = {
  review: [
    'vehicle',
    'signals',
    'map',
    'offset',
    'readings',
    'json',
    'full',
    'table',
    'report',
    'out',
    'format',
    'save',
    'with',
    'data',
    'profile',
  ],
  channels: ['vehicle', 'signals', 'map', 'offset', 'json', 'data'],
  look: ['beside', 'mark', 'json', 'least', 'out'],
  serve: ['data', 'port'],
  batch: ['out', 'queue', 'shared', 'group', 'groups', 'cores', 'wait', 'vehicle', 'signals', 'map', 'json'],
  worker: ['queue', 'shared', 'cores', 'silence'],
  library: ['data', 'json', 'car', 'kit', 'from', 'to', 'finding', 'verdict', 'text'],
  car: ['data', 'json', 'by', 'date', 'reason', 'before', 'after', 'unit', 'finding'],
}

/** What was typed, by option and place. @throws LogError where an option is not known */
export function parse(args: readonly string[]) {
  try {
    return parseArgs({ args: withNegatives(args), allowPositionals: true, options: OPTIONS })
  } catch (error) {
    throw new LogError(
      'usage',
      `aftermile: ${(error as Error).message.replace(/\. To specify.*$/s, '').replace(/\.?$/, '')}; see aftermile --help.`,
    )
  }
}

/** `--offset -3` means what it says: a number after it is its value, not another option. */
function withNegatives(args: readonly string[]): string[] {
  const out: string[] = []
  for (const arg of args)
    if (/^-\.?\d/.test(arg) && out.at(-1) === '--offset') out.push(`${out.pop()}=${arg}`)
    else out.push(arg)
  return out
}

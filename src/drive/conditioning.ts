import type { Channel, ChannelReport, Drive } from '../../shared/drive.ts'

/** A drive while it is being conditioned: its channels so far, and what was done to which and why. */
export class Conditioning {
  readonly channels: Map<string, Channel>
  readonly assumptions: string[] = []
  readonly durationS: number
  #reports: ChannelReport[]
  readonly #done = new Map<string, string[]>()

  constructor(drive: Drive) {
    this.channels = new Map(drive.channels)
    this.durationS = drive.durationS
    this.#reports = [...drive.reports]
  }

  /** Puts a channel in place of the one with its id; `conversion` says in the report what was done, null: nothing. */
  put(channel: Channel, conversion: string | null): void {
    this.channels.set(channel.id, channel)
    if (conversion) this.#done.set(channel.id, [...(this.#done.get(channel.id) ?? []), conversion])
  }

  /** The channel turns out to be another one; a channel that already has that id keeps it. */
  rename(channel: Channel, id: string, why: string): void {
    this.channels.delete(channel.id)
    if (!this.channels.has(id)) this.channels.set(id, { ...channel, id })
    this.#reports = this.#reports.map((report) =>
      isOf(report, channel) ? { ...report, id, why: `${report.why}; ${why}` } : report,
    )
  }

  report(report: ChannelReport): void {
    this.#reports.push(report)
  }

  /** Did a person fix this column's channel by a map or a signal table? */
  given(channel: Channel): boolean {
    return this.#reports.some((report) => isOf(report, channel) && report.sureness === 1)
  }

  /** The reports, each with what was done to the very column that its channel came from. */
  reports(): ChannelReport[] {
    return this.#reports.map((report) => {
      const done = this.#done.get(report.id)
      const channel = this.channels.get(report.id)
      if (!done || !channel || !isOf(report, channel)) return report
      const before = report.conversion === 'none' ? [] : [report.conversion]
      return { ...report, conversion: [...before, ...done].join('; ') }
    })
  }
}

const isOf = (report: ChannelReport, channel: Channel): boolean =>
  report.id === channel.id && report.from === `${channel.file}: ${channel.from}`

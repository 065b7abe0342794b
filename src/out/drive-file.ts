import type { Drive } from '../../shared/drive.ts'
import { DRIVE_FILE_FORM, type DriveFileHead, METADATA } from '../../shared/drive-file.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { VERSION } from '../../shared/version.ts'
import { channelTable } from './channel-table.ts'
import type { OutTable } from './out-table.ts'

/**
 * A drive as one file to send: its channels as a table, and in the metadata what makes it the very same drive again:
 * logs by name and hash, clocks, segments, how each channel was understood, the vehicle file. Who drives it, its
 * registration and number (`record`) stay at home.
 */
export function driveFile(
  drive: Drive,
  vehicle: Vehicle,
): { table: OutTable; more: Readonly<Record<string, string>> } {
  const { channels: _, spares: __, vehicle: ___, ...frame } = drive
  const { record: ____, ...sent } = vehicle
  const { table, stored } = channelTable(drive)
  const head: DriveFileHead = {
    form: DRIVE_FILE_FORM,
    program: VERSION,
    columns: [...stored],
    frame,
    vehicle: sent,
  }
  return { table, more: { [METADATA.own]: JSON.stringify(head) } }
}

/** A log as it lies on disk, and the name by which people know it. */
export interface LogFile {
  readonly path: string
  readonly name: string
}

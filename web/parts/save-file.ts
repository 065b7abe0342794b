/** A signal table as the program reads it. */
export const signalsFile = (table: unknown): File =>
  new File([`${JSON.stringify(table, null, 1)}\n`], 'signals.json', { type: 'application/json' })

/** Hands a file to the browser, to be saved under its name. */
export function saveFile(file: File): void {
  const link = document.createElement('a')
  link.href = URL.createObjectURL(file)
  link.download = file.name
  link.click()
  URL.revokeObjectURL(link.href)
}

/** A progress bar on a terminal; silent elsewhere. Appears only when a job takes longer than a moment. */
export function progressBar(out: NodeJS.WriteStream): { show: (share: number) => void; clear: () => void } {
  const width = 30
  const started = Date.now()
  let shown = ''
  return {
    show(share) {
      if (!out.isTTY || Date.now() - started < 400) return
      const full = Math.round(Math.min(1, Math.max(0, share)) * width)
      const line = `reading ${'█'.repeat(full)}${'░'.repeat(width - full)} ${Math.round(share * 100)} %`
      if (line === shown) return
      shown = line
      out.write(`\r${line}`)
    },
    clear() {
      if (shown !== '') out.write('\r\u001b[K')
    },
  }
}

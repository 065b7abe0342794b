/** Breaks a sentence at blanks; every line starts with the indent, later ones with two blanks more. */
export function wrap(text: string, width: number, indent: number): string[] {
  const lines: string[] = []
  let line = ' '.repeat(indent)
  let empty = true
  for (const word of text.split(/\s+/).filter(Boolean)) {
    if (!empty && line.length + 1 + word.length > width) {
      lines.push(line)
      line = ' '.repeat(indent + 2)
      empty = true
    }
    line += empty ? word : ` ${word}`
    empty = false
  }
  if (!empty) lines.push(line)
  return lines
}

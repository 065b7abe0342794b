/** Names made different where a header repeats one: `T`, `T (2)`. */
export function uniqueNames(names: readonly string[]): string[] {
  const seen = new Map<string, number>()
  const all = new Set(names)
  return names.map((name) => {
    const count = (seen.get(name) ?? 0) + 1
    seen.set(name, count)
    if (count === 1) return name
    let next = count
    while (all.has(`${name} (${next})`)) next++
    const unique = `${name} (${next})`
    all.add(unique)
    return unique
  })
}

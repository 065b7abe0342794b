/** One element of the few kinds that are kept, with what is inside it. Names without a prefix. */
export interface Element {
  readonly name: string
  text: string
  readonly children: Element[]
}

/** The first element of that name inside, however deep: schemas of the 4 series wrap the same fields differently. */
export function inside(element: Element | undefined, name: string): Element | undefined {
  for (const child of element?.children ?? []) {
    if (child.name === name) return child
    const deeper = inside(child, name)
    if (deeper) return deeper
  }
  return undefined
}

export function everyInside(element: Element | undefined, name: string, found: Element[] = []): Element[] {
  for (const child of element?.children ?? []) {
    if (child.name === name) found.push(child)
    else everyInside(child, name, found)
  }
  return found
}

export const textOf = (element: Element | undefined, name: string): string | undefined =>
  inside(element, name)?.text.trim() || undefined

export function numberOf(element: Element | undefined, name: string): number | undefined {
  const text = textOf(element, name)
  if (text === undefined) return undefined
  const value = Number(text)
  return Number.isFinite(value) ? value : undefined
}

import type { ComponentChildren } from 'preact'

/** A column's heading; `num` for columns of figures; `hidden` headings are there for screen readers alone. */
export interface Heading {
  readonly text: string
  readonly num?: boolean
  readonly hidden?: boolean
}

/** A table that scrolls by itself where it is wider than the page, reached by keys. */
export function ScrollTable({
  label,
  headings,
  tall = false,
  children,
}: {
  label: string
  headings: readonly Heading[]
  tall?: boolean
  children: ComponentChildren
}) {
  return (
    // biome-ignore lint/a11y/noNoninteractiveTabindex: what scrolls must be reached by keys
    <section class={tall ? 'table-scroll tall' : 'table-scroll'} tabIndex={0} aria-label={label}>
      <table>
        <thead>
          <tr>
            {headings.map(({ text, num, hidden }) => (
              <th key={text} scope="col" class={num ? 'num' : ''}>
                {hidden ? <span class="unseen">{text}</span> : text}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>{children}</tbody>
      </table>
    </section>
  )
}

/** `['Speed', 'km/h']`-like names as headings of figures. */
export const figureHeadings = (...texts: string[]): Heading[] => texts.map((text) => ({ text, num: true }))

/** Stands where a drawing will be, as tall as it: it says that it loads, and nothing jumps when it comes. */
export function Drawing({ height }: { height: number }) {
  return (
    <p class="drawing soft" role="status" style={{ minHeight: `${height}px` }}>
      Drawing …
    </p>
  )
}

import type { ViewProps } from './drive-frame.tsx'

export function Heat({ drive }: ViewProps) {
  return <h1>{drive.summary.title}</h1>
}

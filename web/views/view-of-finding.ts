import type { Finding } from '../../shared/review.ts'
import type { View } from '../route.ts'

const BY_KIND: readonly (readonly [RegExp, View, string])[] = [
  [/^(joint|cell|sense|parallel|resistance-grown|box-link|main-path)/, 'pack', 'See it in the pack'],
  [/^(module|temperature|coolant|charge-when-cold)/, 'heat', 'See it in the heat view'],
  [/^(pedal|torque)/, 'pedal', 'See it in the pedal view'],
  [/^(regen|brake|wheel)/, 'brake', 'See it in the brake view'],
  [
    /^(no-drive|precharge|link|contactor|inertia|interlock|charge-plug|selector|lv-|isolation|drive-lost)/,
    'start',
    'See it in the start chain',
  ],
  [/^(soc|current|charge-current|discharge-current)/, 'pack', 'See it in the pack'],
]

/** The view that looks at a finding's part of the car, what is chosen there, and the words of the way to it. */
export function viewOfFinding({
  kind,
  subject,
}: Finding): { view: View; item: string; words: string } | null {
  const found = BY_KIND.find(([pattern]) => pattern.test(kind))
  if (!found) return null
  const [, view, words] = found
  const isCell = ['joint', 'cell', 'cell-pair'].includes(subject.type)
  return { view, item: view === 'pack' && isCell && subject.index ? String(subject.index) : '', words }
}

const ZONE = /(Z|[+-]\d\d:\d\d)$/

/** Does an ISO 8601 stamp say its zone? */
export const isZoned = (stamp: string): boolean => ZONE.test(stamp)

/** Milliseconds since 1970; a stamp without a zone is taken as if in UTC, so that such stamps compare. */
export const instantMs = (stamp: string): number => Date.parse(isZoned(stamp) ? stamp : `${stamp}Z`)

/** The stamp so many seconds later, in the zone (or without one) as it was written; the same where it is no date. */
export function laterStamp(stamp: string, seconds: number): string {
  if (Math.abs(seconds) < 5e-4) return stamp
  const zone = ZONE.exec(stamp)?.[0] ?? ''
  const local = new Date(Date.parse(`${stamp.slice(0, stamp.length - zone.length)}Z`) + seconds * 1000)
  return Number.isNaN(local.getTime()) ? stamp : `${local.toISOString().slice(0, -1)}${zone}`
}

import { useEffect, useState } from 'preact/hooks'
import type { DriveSummary } from '../../shared/api.ts'
import { VERDICT_STATES, type VerdictState } from '../../shared/review.ts'
import { type DriveWanted, findDrives } from '../api.ts'
import { fail } from '../state.ts'

/** One drive is found by looking. */
const FEWEST = 2
/** Typing goes on for so long before the library is asked, ms. */
const STILL_MS = 200

const VERDICT_WORDS: Readonly<Record<VerdictState, string>> = {
  'cannot-drive': 'cannot drive',
  stop: 'speaks against handing over',
  attention: 'needs attention',
  'too-little-assessed': 'too little assessed',
  'nothing-found': 'nothing found',
}
const NOTHING: DriveWanted = { text: '', verdict: '', from: '', to: '' }
const isNothing = (wanted: DriveWanted): boolean => Object.values(wanted).every((each) => each === '')

/** The stored drives that fit what is asked for; all of them while nothing is. */
export function useFound(all: readonly DriveSummary[] | null) {
  const [wanted, setWanted] = useState(NOTHING)
  const [found, setFound] = useState<readonly DriveSummary[] | null>(null)
  useEffect(() => {
    if (isNothing(wanted)) {
      setFound(null)
      return
    }
    let current = true
    const timer = setTimeout(() => {
      findDrives(wanted).then((drives) => current && setFound(drives), fail)
    }, STILL_MS)
    return () => {
      current = false
      clearTimeout(timer)
    }
  }, [wanted, all])
  return { wanted, setWanted, found: isNothing(wanted) ? all : (found ?? all) }
}

/** Words, verdict and days that a stored drive is looked for by. */
export function FindDrives({
  stored,
  found,
  wanted,
  onWanted,
}: {
  stored: number
  found: number
  wanted: DriveWanted
  onWanted: (wanted: DriveWanted) => void
}) {
  if (stored < FEWEST) return null
  const day = (name: 'from' | 'to', label: string) => (
    <label>
      {label}
      <input
        type="date"
        value={wanted[name]}
        onInput={(event) => onWanted({ ...wanted, [name]: event.currentTarget.value })}
      />
    </label>
  )
  return (
    <search class="find">
      <label class="find-words">
        Car, kit, log or finding
        <input
          type="search"
          value={wanted.text}
          placeholder="such as: joint 41"
          onInput={(event) => onWanted({ ...wanted, text: event.currentTarget.value })}
        />
      </label>
      <label>
        Verdict
        <select
          value={wanted.verdict}
          onChange={(event) => onWanted({ ...wanted, verdict: event.currentTarget.value })}
        >
          <option value="">any</option>
          {VERDICT_STATES.map((state) => (
            <option key={state} value={state}>
              {VERDICT_WORDS[state]}
            </option>
          ))}
        </select>
      </label>
      {day('from', 'From')}
      {day('to', 'To')}
      <p role="status">
        {isNothing(wanted) ? `${stored} drives` : `${found} of ${stored} drives`}
        {isNothing(wanted) ? null : (
          <button type="button" class="quiet" onClick={() => onWanted(NOTHING)}>
            Show all
          </button>
        )}
      </p>
    </search>
  )
}

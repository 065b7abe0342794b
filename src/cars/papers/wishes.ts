import type { Wishes } from '../../../shared/car-answer.ts'
import { namesInWords } from '../../../shared/channels.ts'
import type { Question, Rung } from '../../../shared/review.ts'
import { capital, sentence } from '../../../shared/wording.ts'
import type { CarFile } from '../open-car.ts'

/** A list longer than this is no list of a few things. */
const MOST = 8
/** Ways of saying it word for word beneath a wish. */
const MOST_HOW = 3
const RUNG_WORDS: Readonly<Record<Rung, string>> = {
  standing: 'With the car standing and not ready',
  walking: 'At walking pace, in a closed place, with a second person',
  road: 'On the road',
}

/**
 * Questions that no drive of the car answered, as the last drive that was asked them says it. What asks the car to roll
 * stands as the car's last drive allows it: advice of an earlier drive to drive is not given again.
 */
export function openQuestions(file: CarFile): Question[] {
  const last = new Map<string, Question>()
  const newest = new Set(file.drives.at(-1)?.review.questions)
  const answered = new Set<string>()
  for (const { review } of file.drives)
    for (const each of review.questions) {
      last.set(each.question, each)
      if (each.state !== 'not-assessed') answered.add(each.question)
    }
  return [...last.values()]
    .filter(({ question }) => !answered.has(question))
    .map((each) =>
      newest.has(each) || (each.rung ?? 'standing') === 'standing' ? each : { ...each, to_assess: null },
    )
}

/**
 * The few channels that most open questions lack, then what is left to do or drive. Greedy: the channel that most of the
 * questions still open lack comes next; a question that lacks several is closed by the last of them, and stands under each.
 */
export function wishesOf(file: CarFile): Wishes['wishes'] {
  let open = openQuestions(file)
  const wishes: Wishes['wishes'] = []
  const wished = new Set<string>()
  while (wishes.length < MOST) {
    const lacking = new Map<string, Question[]>()
    for (const each of open)
      for (const id of new Set(each.missing))
        if (!wished.has(id)) lacking.set(id, [...(lacking.get(id) ?? []), each])
    const [most] = [...lacking].sort((a, b) => b[1].length - a[1].length || a[0].localeCompare(b[0], 'en'))
    if (!most) break
    const [id, asked] = most
    wished.add(id)
    wishes.push({
      what: `Log ${namesInWords(id)}`,
      channels: [id],
      how: [...new Set(asked.flatMap(({ to_assess }) => (to_assess ? [sentence(to_assess)] : [])))].slice(
        0,
        MOST_HOW,
      ),
      closes: asked.map(({ question }) => question),
    })
    open = open.filter(({ missing }) => missing.length === 0 || missing.some((each) => !wished.has(each)))
  }
  const rest = open.filter(({ missing, to_assess }) => missing.length === 0 && to_assess !== null)
  for (const rung of ['standing', 'walking', 'road'] as const) {
    const own = rest.filter((each) => (each.rung ?? 'standing') === rung)
    if (own.length === 0) continue
    wishes.push({
      what: capital(RUNG_WORDS[rung]),
      channels: [],
      how: [...new Set(own.map(({ to_assess }) => sentence(to_assess!)))],
      closes: own.map(({ question }) => question),
    })
  }
  return wishes
}

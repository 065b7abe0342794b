import { REST_FAMILIES } from './rest/families.ts'
import { type Judged, judge, type RestFamily } from './rest/family.ts'
import { studyArguments } from './two-models.ts'

/**
 * The rest of the car: families of drives with a fault planted in one part, and healthy ones, on both simulators' cars.
 *
 *     npm run study:rest -- [drives a model, ill and healthy each, default 20] [family…] [--model=first|second|both]
 *         [--from=SEED]
 *
 * A family is named by its beginning; none named: all. Each drive is judged with and without its vehicle file, by the
 * family's own questions. Printed: found, right subject and size within 15 %, intervals that hold the truth, and every
 * finding above a note that nobody planted, with its seed.
 */
const argv = process.argv.slice(2)
const { count, from, models, words } = studyArguments(argv, 20)
const wanted = (family: RestFamily): boolean =>
  words.length === 0 || words.some((word) => family.name.startsWith(word))

for (const family of REST_FAMILIES.filter(wanted)) {
  for (const model of models) {
    const all: { ill: boolean; bare: boolean; judged: Judged }[] = []
    for (let seed = from; seed < from + count; seed++)
      for (const ill of [true, false]) {
        const made = family.draw(model, seed, ill)
        for (const bare of made.needsFile ? [false] : [false, true]) {
          const judged = judge(family, made, bare)
          all.push({ ill, bare, judged })
          const off = judged.error !== null && Math.abs(judged.error) > 0.15
          const bad = [
            ...(ill && !judged.found ? ['NOT FOUND'] : []),
            ...(off ? [`${(100 * judged.error!).toFixed(0)} % off`] : []),
            ...(judged.covered === false ? ['outside its interval'] : []),
            ...judged.false.map((each) => `FALSE ${each}`),
            ...judged.broke,
          ]
          if (bad.length > 0)
            console.log(
              `  ${family.name}, ${model} seed ${seed} ${ill ? 'ill' : 'healthy'}${bare ? ', bare' : ''} (${made.words}): ${bad.join('; ')}`,
            )
        }
      }
    for (const bare of [false, true]) {
      const own = all.filter((each) => each.bare === bare)
      const ill = own.filter((each) => each.ill).map(({ judged }) => judged)
      const sized = ill.filter(({ error }) => error !== null)
      const held = sized.filter(({ covered }) => covered !== null)
      const accused = own.filter(({ ill, judged }) => !ill && judged.false.length > 0).length
      console.log(
        `${family.name}, ${model} model${bare ? ', no vehicle file' : ''}: found ${ill.filter(({ found }) => found).length} of ${ill.length}` +
          (sized.length > 0
            ? `, size within 15 % ${sized.filter(({ error }) => Math.abs(error!) <= 0.15).length} of ${sized.length}, interval holds ${held.filter(({ covered }) => covered).length} of ${held.length}`
            : '') +
          `, healthy accused ${accused} of ${own.length - ill.length}`,
      )
    }
  }
}

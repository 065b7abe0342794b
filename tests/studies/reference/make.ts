import type { Review } from '../../../shared/review.ts'
import type { Random } from '../../simulator/random.ts'
import type { NameStyle } from './names.ts'
import { referenceScene, type Scene } from './scene.ts'
import { type Dialect, plainDialect, type WrittenLog, writeLog } from './write.ts'

export interface Variant {
  readonly name: string
  make(random: Random): Promise<{ scene: Scene; files: WrittenLog[] }>
  /** Expected kinds that only the vehicle file makes possible. */
  readonly needsFile?: readonly string[]
  /** What else is wrong with the review, with the vehicle file. */
  says?(review: Review): string[]
}

/** Without the vehicle file these have no limit to pass. */
export const NEEDS_FILE = ['regen-dead-band', 'cell-imbalance']

export const PLAIN: NameStyle = {
  vocabulary: 'plain',
  letters: 'words',
  numberFrom: 1,
  cellsBy: 'plain',
  cellsPerModule: 12,
  cells: 84,
  prefix: '',
}

const plain = (scene: Scene, dialect: Partial<Dialect> = {}): WrittenLog[] => [
  writeLog(scene.signals, { ...plainDialect(PLAIN), ...dialect }, null),
]

/** A scene changed, written plainly. */
export const changed = (
  name: string,
  base: string,
  by: (scene: Scene, random: Random) => Scene,
  more: Partial<Variant> & { dialect?: Partial<Dialect> } = {},
): Variant => ({
  name,
  needsFile: NEEDS_FILE,
  ...more,
  make: async (random) => {
    const scene = by(await referenceScene(base), random)
    return { scene, files: plain(scene, more.dialect) }
  },
})

/** An unchanged scene written some way. */
export const written = (name: string, base: string, dialect: (random: Random) => Dialect): Variant => ({
  name,
  needsFile: NEEDS_FILE,
  make: async (random) => {
    const scene = await referenceScene(base)
    return { scene, files: [writeLog(scene.signals, dialect(random), null)] }
  },
})

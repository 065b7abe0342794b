import { converter } from './converter.ts'
import type { RestFamily } from './family.ts'
import { heater } from './heater.ts'

/** Every family of `npm run study:rest`: one file each. */
export const REST_FAMILIES: readonly RestFamily[] = [converter, heater]

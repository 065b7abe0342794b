import type { ReplayAnswer } from '../../shared/api.ts'
import type { Drive } from '../../shared/drive.ts'
import type { RegenMap } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { mapNm } from '../brake/models/regen-map.ts'
import { replay, shapeOfMap } from '../brake/models/replay.ts'
import { type ReplayModel, replayModel } from '../brake/models/replay-model.ts'
import { BRAKE_CHANGE } from '../facts/cautions.ts'
import { gatherFacts } from '../review/run-all.ts'

/** What a replay needs of a drive, made once; null where the drive does not hold it. */
export function prepareReplay(drive: Drive, vehicle: Vehicle): ReplayModel | null {
  return gatherFacts(drive, vehicle).once(replayModel)
}

/**
 * The drive as it was, with another map for both ends of the driver, and the same press with regeneration gone.
 * Shows what would be; proposes nothing, and says where the map asks for more than the drive showed.
 */
export function replayAnswer(model: ReplayModel, map: RegenMap): ReplayAnswer {
  const { start, full, maxNm, fade } = model.driven
  const driven: RegenMap = { start_bar: start, full_bar: full, max_nm: maxNm, fade_kmh: [fade[0], fade[1]] }
  const gone = replay(model, { ...map, max_nm: 0 }, 'same-pressure')
  return {
    before: replay(model, driven, 'same-pressure'),
    replays: [replay(model, map, 'same-pressure'), replay(model, map, 'same-deceleration')],
    friction_alone_per_bar: model.frictionNm === null ? null : gone.deceleration_per_bar,
    friction_alone_per_bar_plus_minus:
      model.frictionNm === null ? null : gone.deceleration_per_bar_plus_minus,
    cautions: [...(asksForMore(model, map) ? [MORE] : []), BRAKE_CHANGE],
  }
}

const MORE =
  'At some pressures and speeds this map asks for more regeneration than the drive showed: the check against the driven axle locking first, low grip included, comes before it.'

/** Does the map ask for over 1 N·m more than the driven one anywhere? */
function asksForMore(model: ReplayModel, map: RegenMap): boolean {
  const wished = shapeOfMap(map, model.driven.liftNm)
  for (let bar = 0; bar <= Math.max(wished.full, model.driven.full) + 1; bar += 0.5)
    for (let kmh = 0; kmh <= Math.max(wished.fade[1], model.driven.fade[1]) + 1; kmh += 0.5)
      if (mapNm(wished, bar, kmh) > mapNm(model.driven, bar, kmh) + 1) return true
  return false
}

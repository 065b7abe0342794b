import type { ReplayAnswer } from '../../shared/api.ts'
import type { Drive } from '../../shared/drive.ts'
import type { RegenMap } from '../../shared/review.ts'
import type { Vehicle } from '../../shared/vehicle.ts'
import { asDriven, isAsDriven, mapOfReview, type ReplayDriver, replay } from '../brake/models/replay.ts'
import { type ReplayModel, replayModel } from '../brake/models/replay-model.ts'
import { curveOf, type SlowingMap, slowingNm } from '../brake/models/slowing-map.ts'
import { BRAKE_CHANGE } from '../facts/cautions.ts'
import { factsOfParts } from '../review/part.ts'

/** What a replay needs of a drive, made once; null where the drive does not hold it. */
export function prepareReplay(drive: Drive, vehicle: Vehicle): ReplayModel | null {
  for (const facts of factsOfParts(drive, vehicle)) {
    const model = facts.once(replayModel)
    if (model) return model
  }
  return null
}

/**
 * The drive as it was, with another map for both ends of the driver, and the same press with regeneration gone.
 * Shows what would be; proposes nothing, and says where the map asks for more than the drive showed.
 */
export function replayAnswer(model: ReplayModel, map: RegenMap): ReplayAnswer {
  const same = isAsDriven(model, map)
  const wished = same ? model.driven : mapOfReview(map, model.driven)
  const drive = same ? asDriven : (of: ReplayModel, driver: ReplayDriver) => replay(of, wished, driver)
  return {
    before: asDriven(model, 'same-pressure'),
    replays: [drive(model, 'same-pressure'), drive(model, 'same-deceleration')],
    line: curveOf(wished, model.reachedBar),
    friction_alone_per_bar: model.frictionPerBar,
    friction_alone_per_bar_plus_minus: model.frictionPerBarPlusMinus,
    cautions: [...(asksForMore(model.driven, wished) ? [MORE] : []), BRAKE_CHANGE],
  }
}

const MORE =
  'At some pressures and speeds this map asks for more regeneration than the drive showed: the check against the driven axle locking first, low grip included, comes before it.'

/** Does the map ask for over 1 N·m more than the driven one anywhere? */
function asksForMore(driven: SlowingMap, wished: SlowingMap): boolean {
  for (let bar = 0; bar <= Math.max(wished.full, driven.full) + 1; bar += 0.5)
    for (let kmh = 0; kmh <= Math.max(wished.fade[1], driven.fade[1]) + 1; kmh += 0.5)
      if (slowingNm(wished, bar, kmh) > slowingNm(driven, bar, kmh) + 1) return true
  return false
}

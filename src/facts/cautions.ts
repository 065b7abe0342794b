/**
 * The cautions that stand beside next steps, worded once. What they must say, and what no next step may propose, is
 * the safety page of the project's reference material.
 */
export const INSIDE_BOX =
  'Modules stay live with the service plug out and the contactors open; only people qualified for live work, with rated gloves, face shield, insulated tools and a second person.'
export const DC_LINK =
  'The DC link may hold charge after any failed start: wait the maker\u2019s time, then measure.'
export const OUTSIDE_BOX = 'Isolate and prove dead before touching high-voltage parts outside the boxes.'
export const HOT_JOINT = 'Do not re-torque a joint that was found hot; open it and look at its faces first.'
export const BRAKE_CHANGE =
  'Try a change of regeneration first at walking pace in a closed place, then dry, then wet. Friction alone must stop the car. Brake changes can need approval where the car is registered.'
export const INERTIA = 'Do not reset the inertia switch before the cause of its opening is known.'
export const LOCAL_RULES = 'Local rules and licensed practice come first.'
export const SELF_HEATING =
  'Leave it, people away; outdoors only if it can be moved without driving or charging it; call the fire service; do not open the box.'

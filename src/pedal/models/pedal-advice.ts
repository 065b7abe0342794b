/** What to do when the motor gives torque that nobody's foot asked for. */
export const STOP_USE =
  'Do not drive the car. With the driven wheels off the ground and a second person at the emergency switch, find out what asks for the torque: log pedal, torque request and torque together.'

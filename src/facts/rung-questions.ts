/**
 * The questions that must have been answered before a car may be asked to roll (the safety page). Their words stand
 * here once: the room asks with them, the review looks for them.
 */
export const RUNG_QUESTIONS = {
  tracks: 'Do both accelerator tracks agree?',
  isolation: 'Is the high voltage isolated from the body?',
  contactors: 'Does a contactor conduct when it should be open?',
  braking: 'From which brake pressure on does the motor slow the car, and how much?',
} as const

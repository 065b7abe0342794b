import { z } from 'zod'

/** `channels.json` of a stored drive: what the sample files hold. File n belongs to entry n − 1. */
const baseSchema = z.object({
  samples: z.int(),
  /** Samples (0-based) after which the log is silent for long: the line breaks there. */
  gaps_after: z.array(z.int()),
  period_s: z.number(),
})
export type Base = z.infer<typeof baseSchema>

const storedChannelSchema = z.object({
  id: z.string(),
  unit: z.string(),
  base: z.int(),
  stored: z.enum(['f32', 'f64']),
  samples: z.int(),
  labels: z.array(z.string()).nullable(),
  file: z.string(),
  from: z.string(),
  step: z.number(),
  polarity: z.enum(['as-named', 'inverted']).nullable(),
  fresh: z.boolean(),
})
export type StoredChannel = z.infer<typeof storedChannelSchema>

export const channelHeaderSchema = z.object({
  version: z.literal(1),
  bases: z.array(baseSchema),
  channels: z.array(storedChannelSchema),
})
export type ChannelHeader = z.infer<typeof channelHeaderSchema>

import { visible } from '../shared/visible.ts'

/**
 * The one error that a person may see: one sentence with the place, what was found and what was expected.
 * `code` is for programs and tests.
 */
export class LogError extends Error {
  readonly code: string

  constructor(code: string, sentence: string) {
    super(sentence)
    this.name = 'LogError'
    this.code = code
  }
}

/**
 * One sentence for what went wrong, and the exit status that it means: 2 unusable arguments or input, 4 the program
 * itself; its trace only where asked for.
 */
export function failure(error: unknown, trace: boolean): { status: 2 | 4; text: string } {
  const { status, text } = told(error, trace)
  return { status, text: visible(text) }
}

function told(error: unknown, trace: boolean): { status: 2 | 4; text: string } {
  if (error instanceof LogError) return { status: 2, text: `${error.message}\n` }
  const [what = ''] = (error instanceof Error ? error.message : String(error)).split('\n')
  const sentence = `aftermile: the program itself failed (${what.replace(/\.$/, '')}); this says nothing of the car.`
  const stack = error instanceof Error ? error.stack : undefined
  return {
    status: 4,
    text: trace && stack ? `${sentence}\n${stack}\n` : `${sentence} --trace says where.\n`,
  }
}

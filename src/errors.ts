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

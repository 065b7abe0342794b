import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    include: ['tests/**/*.test.{ts,tsx}'],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    maxWorkers: 2,
    // A fresh module graph a file cost a third of the suite's time; nothing here mocks a module.
    isolate: false,
    // Every sentence of every review that a test makes is read.
    setupFiles: ['tests/helpers/every-review.ts'],
  },
})

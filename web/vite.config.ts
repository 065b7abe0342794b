import { defineConfig } from 'vite'

export default defineConfig({
  root: import.meta.dirname,
  base: './',
  build: { outDir: '../dist/web', emptyOutDir: true, target: 'es2022' },
})

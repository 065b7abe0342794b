/**
 * Line colours that colour-blind eyes tell apart, for light and for dark ground; each also has its own dash, so that
 * no line is known by colour alone. Source of the hues: Okabe and Ito, "Color universal design" (2008), darkened or
 * lightened here for contrast with the ground.
 */
const LIGHT = ['#0b5a8a', '#b34700', '#006b4f', '#8a3d75', '#7a5c00', '#3d3d3d']
const DARK = ['#6fc3f2', '#ff9d5c', '#4fd1a5', '#e79ccb', '#f0d264', '#d0d0d0']
export const DASHES: readonly (readonly number[])[] = [[], [8, 4], [2, 3], [10, 3, 2, 3], [5, 2], [1, 4]]

export const lineColour = (at: number, dark: boolean): string => {
  const colours = dark ? DARK : LIGHT
  return colours[at % colours.length]!
}

export const lineDash = (at: number): number[] => [...DASHES[at % DASHES.length]!]

/** Colour of a theme variable as it stands now. */
export function themeColour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(name).trim()
}

/**
 * A perceptually even scale from pale to deep that keeps its order in grey and for colour-blind eyes (lightness falls
 * steadily; hue from sand to deep blue). `share` 0 … 1.
 */
export function scaleColour(share: number): string {
  const s = Math.min(1, Math.max(0, share))
  const lightness = 0.95 - 0.62 * s
  const chroma = 0.03 + 0.09 * Math.sin(Math.PI * Math.min(1, s * 0.85 + 0.1))
  const hue = 95 + (255 - 95) * s
  return `oklch(${lightness.toFixed(3)} ${chroma.toFixed(3)} ${hue.toFixed(1)})`
}

/** Ink that reads on `scaleColour(share)`. */
export const inkOn = (share: number): string => (share > 0.5 ? '#ffffff' : '#14202a')

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

/** Colour of a theme variable as it stands now, in a form that a canvas understands. */
export function themeColour(name: string): string {
  const probe = document.body.appendChild(document.createElement('i'))
  probe.style.color = `var(${name})`
  const { color } = getComputedStyle(probe)
  probe.remove()
  return color
}

/**
 * A perceptually even scale from pale sand to deep blue, straight through the OKLab colour space: lightness falls
 * steadily, so that it keeps its order in grey and for colour-blind eyes. `share` 0 … 1.
 */
export function scaleColour(share: number): string {
  const s = Math.min(1, Math.max(0, share))
  const mix = (from: number, to: number) => (from + (to - from) * s).toFixed(3)
  return `oklab(${mix(0.95, 0.33)} ${mix(0.0, -0.02)} ${mix(0.055, -0.11)})`
}

/** Ink that reads on `scaleColour(share)`. */
export const inkOn = (share: number): string => (share > 0.52 ? '#ffffff' : '#0c151c')

import { useEffect, useState } from 'preact/hooks'

const asked = matchMedia('(prefers-color-scheme: dark)')

/** Light or dark: as the person chose on this page, else as the system says. */
export function isDark(): boolean {
  const chosen = document.documentElement.dataset.theme
  return chosen ? chosen === 'dark' : asked.matches
}

export function useDark(): boolean {
  const [dark, setDark] = useState(isDark)
  useEffect(() => {
    const update = () => setDark(isDark())
    asked.addEventListener('change', update)
    addEventListener('themechange', update)
    return () => {
      asked.removeEventListener('change', update)
      removeEventListener('themechange', update)
    }
  }, [])
  return dark
}

export function setTheme(theme: 'light' | 'dark'): void {
  document.documentElement.dataset.theme = theme
  try {
    localStorage.setItem('theme', theme)
  } catch {}
  dispatchEvent(new Event('themechange'))
}

export function restoreTheme(): void {
  try {
    const theme = localStorage.getItem('theme')
    if (theme === 'light' || theme === 'dark') document.documentElement.dataset.theme = theme
  } catch {}
}

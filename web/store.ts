import { useEffect, useState } from 'preact/hooks'

/** One plain object and its listeners. */
export interface Store<T> {
  get(): T
  set(change: Partial<T>): void
  listen(listener: () => void): () => void
}

export function createStore<T extends object>(first: T): Store<T> {
  let now = first
  const listeners = new Set<() => void>()
  return {
    get: () => now,
    set(change) {
      now = { ...now, ...change }
      for (const listener of [...listeners]) listener()
    },
    listen(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
  }
}

/** What `pick` gives from the store; the component is drawn again when that changes. */
export function useStore<T extends object, P>(store: Store<T>, pick: (state: T) => P): P {
  const [value, setValue] = useState(() => pick(store.get()))
  useEffect(() => {
    const update = () => setValue(() => pick(store.get()))
    update()
    return store.listen(update)
  }, [store, pick])
  return value
}

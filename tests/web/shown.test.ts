import { describe, expect, it } from 'vitest'
import { parseRoute } from '../../web/route.ts'
import { readShown, shownText } from '../../web/shown.ts'

describe('what the charts show, in the address', () => {
  const whole = { span: [0, 600] as const, markA: null, markB: null, charts: [] }
  const some = {
    span: [12.25, 40] as const,
    markA: 13,
    markB: null,
    charts: [['speed'], ['pack_current', 'Own name, with / ? & 100 %']],
  }

  it('says nothing of a drive that stands as it opens', () => {
    expect(shownText(whole, 600)).toBe('')
    expect(readShown('#/drive/x/drive')).toEqual({ span: null, markA: null, markB: null, charts: [] })
  })

  it('comes back as it went, whatever a channel is called, and leaves the route alone', () => {
    const address = `#/drive/x/pack/7${shownText(some, 600)}`
    expect(readShown(address)).toEqual(some)
    expect(parseRoute(address)).toEqual({ page: 'drive', id: 'x', view: 'pack', item: '7' })
  })

  it('asks for nothing where it cannot be read', () => {
    for (const address of ['?from=a&to=3', '?from=5&to=3', '?from=-1&to=%', '?a=1e9x'])
      expect(readShown(`#/drive/x/drive${address}`)).toMatchObject({ span: null, markA: null })
  })
})

import { useRef } from 'preact/hooks'
import type { ChannelInfo } from '../../shared/api.ts'

/** Adds a channel by typing: its plain name, its id, or what the log called it. */
export function AddChannel({
  channels,
  onAdd,
  onReset,
}: {
  channels: readonly ChannelInfo[]
  onAdd: (channel: ChannelInfo) => void
  onReset: () => void
}) {
  const input = useRef<HTMLInputElement>(null)
  const add = (event: Event) => {
    event.preventDefault()
    const typed = input.current!.value.trim().toLowerCase()
    if (typed === '') return
    const words = (channel: ChannelInfo) =>
      [channel.label, channel.id, channel.from].map((w) => w.toLowerCase())
    const found =
      channels.find((channel) => words(channel).includes(typed)) ??
      channels.find((channel) => words(channel).some((word) => word.includes(typed)))
    if (!found) {
      input.current!.setCustomValidity('No channel has this name.')
      input.current!.reportValidity()
      return
    }
    onAdd(found)
    input.current!.value = ''
  }
  return (
    <form class="add-channel" onSubmit={add}>
      <label>
        Add a channel
        <input
          ref={input}
          list="channel-names"
          autoComplete="off"
          onInput={(event) => event.currentTarget.setCustomValidity('')}
        />
      </label>
      <datalist id="channel-names">
        {channels.map((channel) => (
          <option key={channel.id} value={channel.label}>
            {channel.from}
          </option>
        ))}
      </datalist>
      <button type="submit">Add</button>
      <button type="button" class="quiet" onClick={onReset}>
        Usual charts
      </button>
    </form>
  )
}

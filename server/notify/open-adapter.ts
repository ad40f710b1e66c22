import type { Channel } from '../calling/channel.ts';
import type { Clock } from '../monitor/steady-clock.ts';
import type { ChannelAdapter } from './delivery.ts';
import { webhook } from './webhook.ts';

/** The adapter of a channel. */
export function openAdapter(channel: Channel, clock: Clock): ChannelAdapter {
  const { settings } = channel;
  switch (settings.kind) {
    case 'webhook':
      return webhook(settings, clock);
    default:
      throw new TypeError(`no adapter for ${settings.kind}`);
  }
}

import type { Channel } from '../escalation/channel.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import type { ChannelAdapter, DeliveryFailure } from './delivery.ts';
import { email } from './email.ts';
import { Mqtt } from './mqtt.ts';
import { type PushKeys, push } from './web-push.ts';
import { webhook } from './webhook.ts';

/** The adapter of a channel. Adapters with a lasting connection report its state to `report`; null = for a test. */
export function openAdapter(
  { settings }: Channel,
  report: ((failure: DeliveryFailure | null) => void) | null,
  parts: { readonly clock: Clock; readonly log: Log; pushKeys(): PushKeys },
): ChannelAdapter {
  switch (settings.kind) {
    case 'webhook':
      return webhook(settings, parts.clock);
    case 'email':
      return email(settings);
    case 'mqtt':
      return new Mqtt(settings, { report, log: parts.log });
    case 'push':
      return push(settings, parts.pushKeys(), parts.clock);
  }
}

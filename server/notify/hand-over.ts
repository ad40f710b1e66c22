import { type Channel, withoutSecrets } from '../escalation/channel.ts';
import type { Message } from '../escalation/message.ts';
import type { Log } from '../monitor/log.ts';
import { messageOf } from '../problem/problem.ts';
import { type ChannelAdapter, DeliveryFailure, type SendWith } from './delivery.ts';

/** One attempt, with an end whatever the adapter does. Null = taken. What is a fault of our own is logged whole. */
export async function handOver(
  { adapter, channel, log }: { readonly adapter: ChannelAdapter; readonly channel: Channel; readonly log: Log },
  message: Message,
  given: Omit<SendWith, 'signal'>,
  attemptMs: number,
  stopped: AbortSignal | null = null,
): Promise<DeliveryFailure | null> {
  const tooLong = AbortSignal.timeout(attemptMs);
  const signal = stopped === null ? tooLong : AbortSignal.any([tooLong, stopped]);
  const over = new Promise<never>((_, reject) => {
    const end = () =>
      reject(new DeliveryFailure('again', 'The other side did not answer in time.', 'It is tried again.'));
    signal.addEventListener('abort', end, { once: true });
  });
  try {
    await Promise.race([adapter.send(message, { ...given, signal }), over]);
    return null;
  } catch (thrown) {
    if (thrown instanceof DeliveryFailure) return thrown;
    // A fault of our own must not stop the other messages, nor be kept silent.
    const where = thrown instanceof Error ? (thrown.stack ?? thrown.message) : String(thrown);
    log.error('Sending a message met a fault', {
      channel: channel.name,
      why: withoutSecrets(where, channel.settings),
    });
    return new DeliveryFailure('again', `The message could not be sent: ${messageOf(thrown)}.`, 'The log says more.', {
      cause: thrown,
    });
  }
}

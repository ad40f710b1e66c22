import { type Channel, withoutSecrets } from '../escalation/channel.ts';
import type { Message } from '../escalation/message.ts';
import type { Log } from '../monitor/log.ts';
import { messageOf } from '../problem/problem.ts';
import { type ChannelAdapter, type DeliveryContext, DeliveryFailure, RETRIED } from './delivery.ts';
import { timeLimit } from './time-limit.ts';

/** One attempt to send a message; it ends in time whatever the adapter does. null = the receiver accepted it. */
export async function attemptDelivery(
  { adapter, channel, log }: { readonly adapter: ChannelAdapter; readonly channel: Channel; readonly log: Log },
  message: Message,
  context: Omit<DeliveryContext, 'signal'>,
  attemptMs: number,
  stopped: AbortSignal | null = null,
): Promise<DeliveryFailure | null> {
  const { signal, end } = timeLimit(attemptMs, stopped);
  const aborted = new Promise<never>((_, reject) => {
    const late = () => reject(new DeliveryFailure('retry', 'The receiver did not answer in time.', RETRIED));
    signal.addEventListener('abort', late, { once: true });
  });
  try {
    await Promise.race([adapter.send(message, { ...context, signal }), aborted]);
    return null;
  } catch (thrown) {
    if (thrown instanceof DeliveryFailure) return thrown;
    // A fault in this program must not stop the other messages, and must be seen.
    const where = thrown instanceof Error ? (thrown.stack ?? thrown.message) : String(thrown);
    log.error('A fault in the program while sending a message', {
      channel: channel.name,
      why: withoutSecrets(where, channel.settings),
    });
    return new DeliveryFailure(
      'retry',
      `The message could not be sent: ${messageOf(thrown)}.`,
      'See the log for details.',
      {
        cause: thrown,
      },
    );
  } finally {
    end();
  }
}

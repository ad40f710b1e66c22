import type { ChannelQueueParts } from '../../server/notify/channel-queue.ts';

/** What a queue needs besides its messages, for a channel over which nothing has been sent yet. */
export const UNTRIED_QUEUE: Pick<ChannelQueueParts, 'state' | 'pageAddress' | 'picture' | 'stateChanged' | 'gone'> = {
  state: { phase: 'untried', sinceMs: 0, text: '', remedy: '', lastDeliveredMs: null },
  pageAddress: () => '',
  picture: async () => null,
  stateChanged: () => {},
  gone: () => {},
};

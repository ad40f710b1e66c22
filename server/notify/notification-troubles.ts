import type { Channel } from '../escalation/channel.ts';
import { type Contact, unreachableText } from '../escalation/contact.ts';
import { type Drill, outcomeOf } from '../escalation/drill.ts';
import { failingText } from '../escalation/message.ts';
import { type UnreadableEntry, unreadableText } from '../escalation/unreadable-entry.ts';
import { outcomeText } from './drills.ts';

export interface FailingChannel {
  readonly name: string;
  readonly kind: Channel['settings']['kind'];
  /** What went wrong at the last attempt. */
  readonly text: string;
}

/** What is wrong with notifications, one sentence or two each, the worst first. */
export function notificationTroubles(parts: {
  /** What of the record about notifications cannot be read. */
  readonly unreadable: readonly UnreadableEntry[];
  readonly contacts: readonly Contact[];
  readonly failing: readonly FailingChannel[];
  /** The latest alarm test; null = none. */
  readonly drill: Drill | null;
  /** What is wrong with the heartbeat; '' = nothing. */
  readonly heartbeat: string;
  readonly nowMs: number;
}): readonly string[] {
  const { unreadable, contacts, failing, drill, heartbeat, nowMs } = parts;
  return [
    ...unreadable.map(unreadableText),
    unreachableText(contacts),
    ...failing.map(({ name, text }) => failingText(name, text)),
    drill !== null && outcomeOf(drill, nowMs) === 'none' ? `The last alarm test: ${outcomeText(drill, nowMs)}` : null,
    heartbeat,
  ].filter((text): text is string => text !== null && text !== '');
}

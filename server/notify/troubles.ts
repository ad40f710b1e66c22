import { unreachableText } from '../escalation/contact.ts';
import { outcomeOf } from '../escalation/drill.ts';
import { unreadableText } from '../escalation/unreadable-entry.ts';
import type { ChannelQueues } from './channel-queues.ts';
import type { ContactService } from './contact-service.ts';
import { type Drills, outcomeText } from './drills.ts';
import type { Heartbeat } from './heartbeat.ts';

/** What prevents people from being notified, one sentence each. */
export function troublesOf(
  contacts: ContactService,
  queues: ChannelQueues,
  { latest }: Drills,
  heartbeat: Heartbeat,
  nowMs: number,
): string[] {
  const troubles = contacts.unreadable.map(unreadableText);
  const unreachable = unreachableText(contacts.all());
  if (unreachable !== null) troubles.push(unreachable);
  for (const { name, text } of queues.failures()) troubles.push(`Messages over “${name}” do not get through. ${text}`);
  if (latest !== null && outcomeOf(latest, nowMs) === 'none') {
    troubles.push(`The last alarm test: ${outcomeText(latest, nowMs)}`);
  }
  const text = heartbeat.state?.text ?? '';
  if (text !== '') troubles.push(text);
  return troubles;
}

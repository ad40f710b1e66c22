import type { PushSettings } from '../escalation/channel.ts';
import { type Contact, NEW_CONTACT } from '../escalation/contact.ts';
import type { Drill } from '../escalation/drill.ts';
import type { Phone } from '../escalation/people-service.ts';
import { Problem } from '../problem/problem.ts';
import type { ChannelService } from './channel-service.ts';
import type { ContactService } from './contact-service.ts';
import type { Drills } from './drills.ts';

export interface PhoneParts {
  readonly channels: ChannelService;
  readonly contacts: ContactService;
  readonly drills: Drills;
}

/**
 * Adds the browser that asks to the channels of a person, who is added if they are new, and sends it an alarm test. Once more
 * with the same browser only repeats the test.
 * @throws Problem bad-name, bad-setting
 */
export async function addPhone({ channels, contacts, drills }: PhoneParts, phone: Phone, who: string): Promise<Drill> {
  const { settings } = phone;
  const name = phone.person.trim();
  if (name === '') {
    const remedy = 'Enter the name of the person who carries this phone.';
    throw new Problem('bad-name', 'The person has no name.', remedy, { pointer: '/person' });
  }
  const known = channels.all().find((one) => isSameBrowser(one.settings, settings));
  const channel =
    known ?? (await channels.add({ name: channels.freeName(phone.device.trim() || 'Phone'), settings }, who));
  const contact = withChannel(contacts, name, channel.id, who);
  return drills.startDrill(who, { ...contact, channelIds: [channel.id] });
}

function isSameBrowser(settings: { readonly kind: string; readonly endpoint?: string }, { endpoint }: PushSettings) {
  return settings.kind === 'push' && settings.endpoint === endpoint;
}

function withChannel(contacts: ContactService, name: string, channelId: number, who: string): Contact {
  const known = contacts.all().find((one) => one.name.toLowerCase() === name.toLowerCase());
  if (known === undefined) return contacts.add({ ...NEW_CONTACT, name, channelIds: [channelId] }, who);
  if (known.channelIds.includes(channelId)) return known;
  return contacts.change({ ...known, channelIds: [...known.channelIds, channelId] }, who);
}

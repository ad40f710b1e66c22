import type { Channel, PushSettings } from '../escalation/channel.ts';
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
  const { deviceId } = phone;
  const settings: PushSettings = { ...phone.settings, ...(deviceId === null ? {} : { deviceId }) };
  const name = phone.person.trim();
  if (name === '') {
    const remedy = 'Enter the name of the person who carries this phone.';
    throw new Problem('bad-name', 'The person has no name.', remedy, { pointer: '/person' });
  }
  const known = channels.all().find((one) => isSameBrowser(one.settings, settings));
  if (known !== undefined && deviceId !== null) await giveTo(channels, known, deviceId, who);
  const channel =
    known ?? (await channels.add({ name: channels.freeName(phone.device.trim() || 'Phone'), settings }, who));
  const contact = withChannel(contacts, name, channel.id, who);
  return drills.startDrill(who, { ...contact, channelIds: [channel.id] });
}

/**
 * Whoever finds a phone that was removed must not learn of alarms, or answer them by the links in messages.
 * @param paired ids of all devices
 * @param replaced a device that was paired again, and its new id; its browser is notified as before
 */
export async function keepPhones(
  { channels, contacts }: Omit<PhoneParts, 'drills'>,
  paired: ReadonlySet<number>,
  replaced: readonly [from: number, to: number] | null,
): Promise<void> {
  for (const channel of channels.all()) {
    const { settings } = channel;
    if (settings.kind !== 'push' || settings.deviceId === undefined || paired.has(settings.deviceId)) continue;
    if (settings.deviceId === replaced?.[0]) await giveTo(channels, channel, replaced[1], 'service');
    else await channels.remove(channel.id, 'service', 'Its device was removed.');
  }
  contacts.reload();
}

async function giveTo(channels: ChannelService, channel: Channel, deviceId: number, who: string): Promise<void> {
  const { settings } = channel;
  if (settings.kind !== 'push' || settings.deviceId === deviceId) return;
  await channels.change({ ...channel, settings: { ...settings, deviceId } }, who);
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

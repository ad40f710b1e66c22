import {
  type Channel,
  type ChannelSettings,
  destination,
  RECEIVER_FIELDS,
  SECRET_FIELDS,
  withSignInApart,
} from '../escalation/channel.ts';
import { checkChannel, checkOneSignIn } from '../escalation/check-channel.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { UnreadableEntry } from '../escalation/unreadable-entry.ts';
import type { Clock } from '../monitor/clock.ts';
import { Problem, within } from '../problem/problem.ts';
import type { ChannelQueues } from './channel-queues.ts';
import { checkClientCertificate } from './client-certificate.ts';

export interface ChannelServiceParts {
  readonly store: PeopleStore;
  readonly queues: ChannelQueues;
  readonly clock: Clock;
  recordAction(what: string, who: string): void;
}

/** Channels are added, changed and removed here, each checked first. */
export class ChannelService {
  readonly #parts: ChannelServiceParts;

  constructor(parts: ChannelServiceParts) {
    this.#parts = parts;
  }

  all(): readonly Channel[] {
    return this.#parts.store.channels();
  }

  /** @throws Problem unknown-channel */
  find(id: number): Channel {
    const found = this.all().find((channel) => channel.id === id);
    if (found) return found;
    throw new Problem('unknown-channel', `There is no channel ${id}.`, 'Reload the page and choose one there.');
  }

  async add(channel: Omit<Channel, 'id'>, who: string): Promise<Channel> {
    const { store, queues, clock, recordAction } = this.#parts;
    const checked = this.#checked(null, channel.name, channel.settings);
    const lost = this.#unreadable().find((one) => one.name === checked.name);
    // Whoever was notified over it is so again.
    const added = lost === undefined ? store.addChannel(checked, clock()) : { ...checked, id: lost.id };
    if (lost !== undefined) store.changeChannel(added, clock());
    await queues.put(added);
    recordAction(`Added the channel ${added.name} (${added.settings.kind}, ${destination(added.settings)}).`, who);
    return added;
  }

  async change(channel: Channel, who: string): Promise<Channel> {
    const { store, queues, clock, recordAction } = this.#parts;
    const changed = { ...this.#checked(channel.id, channel.name, channel.settings), id: channel.id };
    store.changeChannel(changed, clock());
    await queues.put(changed);
    recordAction(
      `Changed the channel ${changed.name} (${changed.settings.kind}, ${destination(changed.settings)}).`,
      who,
    );
    return changed;
  }

  async remove(id: number, who: string, why = 'The channel was removed.'): Promise<void> {
    const { store, queues, clock, recordAction } = this.#parts;
    const { name } = this.#unreadable().find((one) => one.id === id) ?? this.find(id);
    store.removeChannel(id, clock());
    await queues.remove(id, why);
    recordAction(`Removed the channel ${name}.`, who);
  }

  #unreadable(): readonly UnreadableEntry[] {
    return this.#parts.store.unreadableEntries().filter(({ kind }) => kind === 'channel');
  }

  /** The wanted name, with a number where it is taken. */
  freeName(wanted: string): string {
    const taken = new Set(this.all().map(({ name }) => name.toLowerCase()));
    let name = wanted;
    for (let n = 2; taken.has(name.toLowerCase()); n++) name = `${wanted} ${n}`;
    return name;
  }

  /** The channel as it would be saved, for a test before that. @throws Problem bad-setting, bad-template, unknown-channel */
  draft(id: number | null, name: string, settings: ChannelSettings): Channel {
    if (id !== null) within('/id', () => this.find(id));
    return { name, id: id ?? 0, settings: this.#withStoredSecrets(id, settings) };
  }

  #checked(id: number | null, name: string, settings: ChannelSettings): Omit<Channel, 'id'> {
    const tidy = name.trim();
    if (tidy === '') throw badName('The channel has no name.', 'Enter one, such as “Anna’s phone”.');
    const taken = this.all().some((other) => other.id !== id && other.name.toLowerCase() === tidy.toLowerCase());
    if (taken) throw badName(`There is already a channel “${tidy}”.`, 'Enter another name.');
    return { name: tidy, settings: this.#withStoredSecrets(id, settings) };
  }

  /** Secrets are never shown, so an empty one means that the stored one stays. */
  #withStoredSecrets(id: number | null, given: ChannelSettings): ChannelSettings {
    within('/settings', () => checkOneSignIn(given));
    const settings = withSignInApart(given);
    const before = id === null ? null : this.find(id).settings;
    if (before !== null && before.kind !== settings.kind) {
      throw new Problem('bad-setting', 'The kind of a channel cannot be changed.', 'Remove it and add another.', {
        pointer: '/settings/kind',
      });
    }
    const input: Readonly<Record<string, unknown>> = { ...settings };
    const stored: Readonly<Record<string, unknown>> = { ...before };
    const kept = SECRET_FIELDS[settings.kind].filter(
      (field) => (input[field] ?? '') === '' && typeof stored[field] === 'string',
    );
    // Without a user name there is no password to keep, and without a certificate no key.
    const without = new Set([input.user ? '' : 'password', input.clientCertificate ? '' : 'clientKey']);
    const usable = kept.filter((field) => !without.has(field));
    const moved = RECEIVER_FIELDS[settings.kind].find((field) => input[field] !== stored[field]);
    // A private key is never sent to anyone.
    const [secret] = usable.filter((field) => field !== 'clientKey' && stored[field] !== '');
    // Otherwise a test would hand the password to whatever address was entered.
    if (moved !== undefined && secret !== undefined) {
      throw new Problem(
        'bad-setting',
        `The ${moved} has changed, so the saved ${secret} is not used.`,
        `Enter the ${secret} again.`,
        { pointer: `/settings/${secret}` },
      );
    }
    const whole = {
      ...(typeof stored.deviceId === 'number' ? { deviceId: stored.deviceId } : {}),
      ...settings,
      ...Object.fromEntries(usable.map((field) => [field, stored[field]])),
    } as ChannelSettings;
    within('/settings', () => {
      checkChannel(whole);
      if (whole.kind === 'mqtt') checkClientCertificate(whole);
    });
    return whole;
  }
}

function badName(what: string, remedy: string): Problem {
  return new Problem('bad-name', what, remedy, { pointer: '/name' });
}

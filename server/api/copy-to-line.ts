import type { Lot } from '../entities/run.ts';
import type { PeopleOverview } from '../escalation/people-service.ts';
import type { OtherLines } from '../front/other-lines.ts';
import { ChannelView } from './contract/channels.ts';
import type { CopiedView } from './contract/lines.ts';
import { LiveState } from './contract/live-state.ts';
import { PeopleView } from './contract/people.ts';
import { PrinterProfile } from './contract/printers.ts';
import { list } from './contract/schema.ts';
import { answerReader } from './line-reader.ts';
import { channelView } from './people-views.ts';

/** What the lines of a house have in common. */
export interface InCommon {
  readonly people: Pick<PeopleOverview, 'channels' | 'contacts'>;
  readonly printers: readonly PrinterProfile[];
  /** Material of the present run; null = none. */
  readonly lot: Lot | null;
}

const readPeople = answerReader(PeopleView);
const readChannel = answerReader(ChannelView);
const readPrinters = answerReader(list(PrinterProfile));
const readState = answerReader(LiveState);

/**
 * Copies people, printers and the material to another line, but no secrets. What has the same name there stays as it is.
 * @param token of that line, with the right to manage
 * @throws Problem `unknown-line`, `line-failed`
 */
export async function copyToLine(
  others: OtherLines,
  { id, token, who }: { readonly id: number; readonly token: string; readonly who: string },
  { people, printers, lot }: InCommon,
): Promise<CopiedView> {
  const tell = (method: 'GET' | 'POST' | 'PUT', path: string, body?: object) =>
    others.tell(id, { method, path, token, who, ...(body === undefined ? {} : { body }) });
  const there = readPeople(await tell('GET', '/api/people'));
  const theirChannel = new Map(there.channels.map((channel) => [channel.name, channel.id]));
  const channelIds = new Map<number, number>();
  const leftOut: string[] = [];
  for (const overview of people.channels) {
    const { id: own, name, settings } = overview.channel;
    const known = theirChannel.get(name);
    if (known !== undefined) channelIds.set(own, known);
    // A browser subscribes to one service, and a secret goes nowhere but where it was entered for.
    else if (settings.kind === 'push') leftOut.push(`${name} is notified in its browser: add it on that line, too.`);
    else if (channelView(overview).savedSecrets.length > 0)
      leftOut.push(`${name} has an address or password that is secret: enter it on that line, too.`);
    else channelIds.set(own, readChannel(await tell('POST', '/api/channels', { name, settings })).id);
  }
  const newPeople = people.contacts.filter(({ name }) => !there.contacts.some((one) => one.name === name));
  for (const { id: _, ...contact } of newPeople) {
    const mapped = contact.channelIds.flatMap((one) => channelIds.get(one) ?? []);
    await tell('POST', '/api/people', { ...contact, channelIds: mapped });
  }
  const theirPrinters = readPrinters(await tell('GET', '/api/printers'));
  const newPrinters = printers.filter(
    ({ id: own, name }) => own > 0 && !theirPrinters.some((one) => one.name === name),
  );
  for (const { id: _, ...printer } of newPrinters) await tell('POST', '/api/printers', printer);
  const { run } = readState(await tell('GET', '/api/state'));
  const material = lot !== null && run !== null && run.lot === null;
  if (material) await tell('PUT', `/api/runs/${run.id}/lot`, lot);
  else if (lot !== null) {
    leftOut.push(
      run === null ? 'No run is going on there, so no material was entered.' : 'The run there has its own material.',
    );
  }
  return { people: newPeople.length, printers: newPrinters.length, material, leftOut };
}

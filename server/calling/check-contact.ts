import { Problem } from '../problem/problem.ts';
import { type Contact, isClockTime, minuteOf } from './contact.ts';

/** @throws Problem `bad-setting`, `unknown-channel` */
export function checkContact(
  contact: Omit<Contact, 'id'>,
  others: readonly Contact[],
  channelIds: ReadonlySet<number>,
): Omit<Contact, 'id'> {
  const name = contact.name.trim();
  if (name === '') throw new Problem('bad-setting', 'There is no name.', 'Give one, as you call them in the house.');
  if (others.some((other) => other.name.toLowerCase() === name.toLowerCase())) {
    throw new Problem('bad-setting', `There is a “${name}” already.`, 'Give another name.');
  }
  const missing = contact.channelIds.find((id) => !channelIds.has(id));
  if (missing !== undefined) {
    throw new Problem('unknown-channel', `There is no channel ${missing}.`, 'Load the page anew and choose one there.');
  }
  const { quiet } = contact;
  if (quiet !== null) {
    if (!isClockTime(quiet.from) || !isClockTime(quiet.to)) {
      throw new Problem('bad-setting', 'The quiet hours cannot be understood.', 'Give times such as 22:00 and 06:30.');
    }
    if (minuteOf(quiet.from) === minuteOf(quiet.to)) {
      throw new Problem(
        'bad-setting',
        'The quiet hours begin when they end.',
        'Give two times, or none for no quiet hours.',
      );
    }
  }
  return { ...contact, name, channelIds: [...new Set(contact.channelIds)] };
}

import { pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { type Contact, isClockTime, minuteOf } from './contact.ts';

/** @throws Problem `bad-name`, `bad-setting`, `unknown-channel` */
export function checkContact(
  contact: Omit<Contact, 'id'>,
  others: readonly Contact[],
  channelIds: ReadonlySet<number>,
): Omit<Contact, 'id'> {
  const name = contact.name.trim();
  if (name === '') {
    throw new Problem('bad-name', 'The person has no name.', 'Enter the name that you use in the workshop.', {
      pointer: '/name',
    });
  }
  if (others.some((other) => other.name.toLowerCase() === name.toLowerCase())) {
    throw new Problem('bad-name', `There is already a person called “${name}”.`, 'Choose another name.', {
      pointer: '/name',
    });
  }
  const missing = contact.channelIds.findIndex((id) => !channelIds.has(id));
  if (missing >= 0) {
    throw new Problem(
      'unknown-channel',
      `There is no channel ${contact.channelIds[missing]}.`,
      'Reload the page and choose a channel from the list.',
      { pointer: pointerTo('channelIds', missing) },
    );
  }
  const { quiet } = contact;
  if (quiet !== null) {
    if (!isClockTime(quiet.from) || !isClockTime(quiet.to)) {
      const pointer = isClockTime(quiet.from) ? '/quiet/to' : '/quiet/from';
      throw new Problem('bad-setting', 'The quiet hours are not valid times.', 'Enter times such as 22:00 and 06:30.', {
        pointer,
      });
    }
    if (minuteOf(quiet.from) === minuteOf(quiet.to)) {
      throw new Problem(
        'bad-setting',
        'The quiet hours start and end at the same time.',
        'Enter two different times, or none for no quiet hours.',
        { pointer: '/quiet/to' },
      );
    }
  }
  return { ...contact, name, channelIds: [...new Set(contact.channelIds)] };
}

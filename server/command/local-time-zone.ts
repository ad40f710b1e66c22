import { readlinkSync } from 'node:fs';
import type { Environment } from './arguments.ts';

/**
 * The time zone of this machine. Asking for it by `Intl.DateTimeFormat` loads the names of all locales: 8 MB of resident
 * memory, which is done only if the zone is found neither in the environment nor in the link of `/etc/localtime`.
 */
export function localTimeZone(env: Environment, link = '/etc/localtime'): string {
  const zone = env.TZ || /\/zoneinfo\/(.+)$/.exec(targetOf(link))?.[1]?.replace(/^(Etc\/)?UTC$/, 'UTC');
  // What the list does not have may be an older name of a zone.
  if (zone === 'UTC' || (zone !== undefined && Intl.supportedValuesOf('timeZone').includes(zone))) return zone;
  return Intl.DateTimeFormat().resolvedOptions().timeZone;
}

function targetOf(link: string): string {
  try {
    return readlinkSync(link);
  } catch {
    // It may be a file, and Windows has none.
    return '';
  }
}

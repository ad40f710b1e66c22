import { readlinkSync } from 'node:fs';
import type { Environment } from './arguments.ts';

/**
 * The time zone of this machine. Asking for it by `Intl.DateTimeFormat` loads the names of all locales: 8 MB of resident
 * memory, which is done only if the zone is found neither in the environment nor in the link of `/etc/localtime`.
 * @param unknown called with a name that the engine does not know: it then counts all local times in UTC
 */
export function localTimeZone(env: Environment, unknown = (_name: string) => {}, link = '/etc/localtime'): string {
  const name = env.TZ || /\/zoneinfo\/(.+)$/.exec(targetOf(link))?.[1]?.replace(/^(Etc\/)?UTC$/, 'UTC');
  // What the list does not have may be an older name of a zone.
  if (name === 'UTC' || (name !== undefined && Intl.supportedValuesOf('timeZone').includes(name))) return name;
  // The engine has no answer, or one that it does not accept itself, if it does not know the zone.
  const zone: string | undefined = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const isKnown = zone !== undefined && isZone(zone);
  if (!isKnown || (env.TZ && zone === 'UTC' && !isZone(env.TZ.replace(/^:/, '')))) unknown(name ?? '');
  return isKnown ? zone : 'UTC';
}

function isZone(name: string): boolean {
  try {
    return new Intl.DateTimeFormat('en', { timeZone: name }) !== null;
  } catch {
    return false;
  }
}

function targetOf(link: string): string {
  try {
    return readlinkSync(link);
  } catch {
    // It may be a file, and Windows has none.
    return '';
  }
}

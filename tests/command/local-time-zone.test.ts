import { mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { localTimeZone } from '../../server/command/local-time-zone.ts';

const ofThisProcess = Intl.DateTimeFormat().resolvedOptions().timeZone;

function linkTo(target: string): string {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-zone-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  symlinkSync(target, join(folder, 'localtime'));
  return join(folder, 'localtime');
}

test.each([
  ['/usr/share/zoneinfo/Europe/Berlin', 'Europe/Berlin'],
  ['../usr/share/zoneinfo/America/Argentina/Ushuaia', 'America/Argentina/Ushuaia'],
  ['/usr/share/zoneinfo/Etc/UTC', 'UTC'],
  ['/var/db/timezone/zoneinfo/Asia/Tokyo', 'Asia/Tokyo'],
  ['/usr/share/zoneinfo/No/Such', ofThisProcess],
  ['/etc/somewhere', ofThisProcess],
])('a link to %s is the time zone %s', (target, zone) => {
  expect(localTimeZone({}, linkTo(target))).toBe(zone);
});

test('the environment comes first; without a link or with an unknown zone the engine is asked', () => {
  const link = linkTo('/usr/share/zoneinfo/Europe/Berlin');
  expect(localTimeZone({ TZ: 'Australia/Sydney' }, link)).toBe('Australia/Sydney');
  expect(localTimeZone({ TZ: 'UTC' }, link)).toBe('UTC');
  expect(localTimeZone({ TZ: '' }, link)).toBe('Europe/Berlin');
  expect(localTimeZone({ TZ: 'CET-1CEST' }, link)).toBe(ofThisProcess);
  expect(localTimeZone({}, '/no/such/link')).toBe(ofThisProcess);
});

test.each(['Europe/Berlin', 'America/New_York', 'Pacific/Chatham', 'UTC'])(
  '%s is what the engine says, too',
  (zone) => {
    const before = process.env.TZ;
    onTestFinished(() => {
      if (before === undefined) delete process.env.TZ;
      else process.env.TZ = before;
    });
    process.env.TZ = zone;
    expect(Intl.DateTimeFormat().resolvedOptions().timeZone).toBe(localTimeZone({ TZ: zone }));
  },
);

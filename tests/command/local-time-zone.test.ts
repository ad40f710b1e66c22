import { mkdtempSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test, vi } from 'vitest';
import { localTimeZone } from '../../server/command/local-time-zone.ts';

const ofThisProcess = Intl.DateTimeFormat().resolvedOptions().timeZone;

function linkTo(target: string): string {
  const folder = mkdtempSync(join(tmpdir(), 'strandward-zone-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  symlinkSync(target, join(folder, 'localtime'));
  return join(folder, 'localtime');
}

function useZone(zone: string): void {
  const before = process.env.TZ;
  onTestFinished(() => {
    if (before === undefined) delete process.env.TZ;
    else process.env.TZ = before;
  });
  process.env.TZ = zone;
}

test.each([
  ['/usr/share/zoneinfo/Europe/Berlin', 'Europe/Berlin'],
  ['../usr/share/zoneinfo/America/Argentina/Ushuaia', 'America/Argentina/Ushuaia'],
  ['/usr/share/zoneinfo/Etc/UTC', 'UTC'],
  ['/var/db/timezone/zoneinfo/Asia/Tokyo', 'Asia/Tokyo'],
  ['/usr/share/zoneinfo/No/Such', ofThisProcess],
  ['/etc/somewhere', ofThisProcess],
])('a link to %s is the time zone %s', (target, zone) => {
  expect(localTimeZone({}, undefined, linkTo(target))).toBe(zone);
});

test('the environment comes first; without a link or with an unknown zone the engine is asked', () => {
  const link = linkTo('/usr/share/zoneinfo/Europe/Berlin');
  expect(localTimeZone({ TZ: 'Australia/Sydney' }, undefined, link)).toBe('Australia/Sydney');
  expect(localTimeZone({ TZ: 'UTC' }, undefined, link)).toBe('UTC');
  expect(localTimeZone({ TZ: '' }, undefined, link)).toBe('Europe/Berlin');
  expect(localTimeZone({ TZ: 'CET-1CEST' }, undefined, link)).toBe(ofThisProcess);
  expect(localTimeZone({}, undefined, '/no/such/link')).toBe(ofThisProcess);
});

test.each(['Europe/Berlin', 'America/New_York', 'Pacific/Chatham', 'UTC'])(
  '%s is what the engine says, too',
  (zone) => {
    useZone(zone);
    expect(Intl.DateTimeFormat().resolvedOptions().timeZone).toBe(localTimeZone({ TZ: zone }));
  },
);

test.each(['Europe/Berln', 'europe/berlin', 'Factory', 'CET-1CEST', '../../etc/passwd'])(
  'a name that the engine does not know, such as %s, is reported, and stands for the UTC that it then counts in',
  (zone) => {
    useZone(zone);
    const unknown = vi.fn();
    expect(localTimeZone({ TZ: zone }, unknown)).toBe('UTC');
    expect(unknown.mock.calls).toEqual([[zone]]);
    expect(new Date(2026, 6, 1).getTimezoneOffset()).toBe(0);
  },
);

test.each(['EST5EDT', ':Europe/Berlin', 'Etc/GMT+5', 'Zulu', 'Asia/Calcutta'])(
  'an unusual name such as %s is not reported',
  (zone) => {
    useZone(zone);
    const unknown = vi.fn();
    new Intl.DateTimeFormat('en', { timeZone: localTimeZone({ TZ: zone }, unknown) });
    expect(unknown).not.toHaveBeenCalled();
  },
);

import { describe, expect, test } from 'vitest';
import { Problem } from '../../server/problem/problem.ts';
import { openSource } from '../../server/source/open-source.ts';
import { parseSourceAddress } from '../../server/source/source-address.ts';

describe('a valid address', () => {
  test.each([
    ['', { kind: 'simulator', scenario: 'evening', seed: 1, pace: 1, rateHz: 50, also: [] }],
    ['  ', { kind: 'simulator', scenario: 'evening', seed: 1, pace: 1, rateHz: 50, also: [] }],
    ['simulator:', { kind: 'simulator', scenario: 'evening', seed: 1, pace: 1, rateHz: 50, also: [] }],
    [
      'simulator:damp-feed?seed=7&pace=20&rate=12.5',
      { kind: 'simulator', scenario: 'damp-feed', seed: 7, pace: 20, rateHz: 12.5, also: [] },
    ],
    [
      'simulator:evening?also=turns,bar',
      { kind: 'simulator', scenario: 'evening', seed: 1, pace: 1, rateHz: 50, also: ['turns', 'bar'] },
    ],
    [
      'simulator:evening?pace=max',
      { kind: 'simulator', scenario: 'evening', seed: 1, pace: 'max', rateHz: 50, also: [] },
    ],
    ['serial:/dev/ttyUSB0', { kind: 'serial', path: '/dev/ttyUSB0', baud: 115_200 }],
    ['serial:/dev/ttyUSB0?baud=9600', { kind: 'serial', path: '/dev/ttyUSB0', baud: 9600 }],
    ['/dev/serial/by-id/usb-x', { kind: 'serial', path: '/dev/serial/by-id/usb-x', baud: 115_200 }],
    ['/dev/ttyACM0?baud=57600', { kind: 'serial', path: '/dev/ttyACM0', baud: 57_600 }],
    ['COM3', { kind: 'serial', path: 'COM3', baud: 115_200 }],
    ['com12?baud=250000', { kind: 'serial', path: 'com12', baud: 250_000 }],
    ['serial:COM3', { kind: 'serial', path: 'COM3', baud: 115_200 }],
    ['tcp:board.local:8023', { kind: 'tcp', host: 'board.local', port: 8023 }],
    ['TCP:192.168.1.40:1', { kind: 'tcp', host: '192.168.1.40', port: 1 }],
    ['tcp:[fd00::40]:8023', { kind: 'tcp', host: 'fd00::40', port: 8023 }],
    ['file:night.log', { kind: 'file', path: 'night.log', pace: 1, startMs: null, rateHz: null }],
    ['file:/srv/a b.log?pace=max', { kind: 'file', path: '/srv/a b.log', pace: 'max', startMs: null, rateHz: null }],
    ['file:what?.log?pace=2.5', { kind: 'file', path: 'what?.log', pace: 2.5, startMs: null, rateHz: null }],
    [
      'file:night.log?pace=max&rate=12.5&start=2031-02-03T20:15:00Z',
      { kind: 'file', path: 'night.log', pace: 'max', startMs: Date.UTC(2031, 1, 3, 20, 15), rateHz: 12.5 },
    ],
  ])('is parsed: %s', (text, address) => {
    expect(parseSourceAddress(text)).toEqual(address);
  });
});

describe('an invalid address', () => {
  test.each([
    ['usb:1', /“usb” is not a kind of source/, /serial:PATH/],
    ['evening', /“evening” is not the address/, /simulator:SCENARIO/],
    ['serial:', /has no port/, /serial:\/dev\/ttyUSB0/],
    ['serial:/dev/ttyUSB0?baud=fast', /“fast” is not a valid baud/, /whole number from 50/],
    ['serial:/dev/ttyUSB0?speed=9600', /no option “speed”/, /baud/],
    ['tcp:board.local', /“board.local” is not a host and port/, /tcp:HOST:PORT/],
    ['tcp:board.local:0', /is not a host and port/, /1 to 65535/],
    ['tcp:board.local:70000', /is not a host and port/, /1 to 65535/],
    ['tcp:fd00::40:8023', /is not a host and port/, /\[fd00::40\]/],
    ['tcp:a:1?baud=2', /no option “baud”/, /no options/],
    ['file:', /has no path/, /file:night\.log/],
    ['file:night.log\0x', /control character/, /file:PATH/],
    ['serial:/dev/tty\0USB0', /control character/, /serial:PATH/],
    ['tcp:board\n.local:8023', /control character/, /tcp:HOST:PORT/],
    ['file:x?pace=0', /“0” is not a valid pace/, /or max/],
    ['file:x?pace=fast', /“fast” is not a valid pace/, /or max/],
    ['file:x?rate=0', /“0” is not a valid rate/, /0\.1 to 1000/],
    ['file:x?start=tonight', /“tonight” is not a valid start/, /2026-11-24T20:15/],
    ['file:x?pace=1&pace=2', /“pace” is given twice/, /once/],
    ['simulator:evening?seed=1.5', /“1.5” is not a valid seed/, /whole number/],
    ['simulator:evening?rate=1000', /“1000” is not a valid rate/, /0\.1 to 200/],
  ])('is refused with the mistake and what to write: %s', (text, message, remedy) => {
    const problem = problemOf(() => parseSourceAddress(text));
    expect(problem.code).toBe('bad-setting');
    expect(problem.message).toMatch(message);
    expect(problem.remedy).toMatch(remedy);
  });

  test('with an unknown scenario is refused with the known ones', () => {
    const problem = problemOf(() => openSource('simulator:midnight', () => 0));
    expect(problem.code).toBe('bad-setting');
    expect(problem.message).toMatch(/midnight/);
    expect(problem.remedy).toMatch(/evening/);
  });

  test('of a missing file or a folder is refused before the start', () => {
    const missing = problemOf(() => openSource('file:/nowhere/night.log', () => 0));
    expect(missing.code).toBe('source-unusable');
    expect(missing.message).toBe('Cannot replay /nowhere/night.log: there is no such file.');
    expect(problemOf(() => openSource('file:/tmp', () => 0)).message).toMatch(/it is a folder/);
  });

  test('of a missing port is accepted', () => {
    expect(openSource('serial:/dev/nowhere', () => 0).title).toBe('serial port /dev/nowhere');
  });
});

function problemOf(act: () => unknown): Problem {
  try {
    act();
  } catch (thrown) {
    if (thrown instanceof Problem) return thrown;
    throw thrown;
  }
  throw new Error('The address was not refused.');
}

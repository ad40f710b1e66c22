/** What is said of bytes from which no reading can be made. */
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { AlarmType } from '../../server/alarm/alarm.ts';
import { until } from '../source/collecting-listener.ts';
import { ClockAhead, type WatchedLine, watchLine } from './watched-line.ts';

const LINE = 'ms=1 d=1.752 t1=198.4 s1=200\n';

let line: WatchedLine;
let clock: ClockAhead;
/** Rates that the board's lines could be read at; null = none. */
let rightRate: number | null;
let searches: number;
/** Ends the search that runs. */
let finish: () => void;

beforeEach(() => {
  clock = new ClockAhead();
  rightRate = null;
  searches = 0;
  line = watchLine(
    {},
    {
      timing: 'live',
      baudRate: 115_200,
      findRate: async (onTrial) => {
        searches++;
        onTrial(9600);
        await new Promise<void>((resolve) => {
          finish = resolve;
        });
        return rightRate;
      },
    },
    clock,
  );
});

afterEach(async () => {
  finish?.();
  await line.remove();
});

const incoming = () => line.monitor.incoming();
const standing = (type: AlarmType) => line.monitor.alarms.standing().find((alarm) => alarm.type === type);
const NOISE = Buffer.from(Uint8Array.from({ length: 400 }, (_, i) => ((i * 151) % 256) | 128)).toString('latin1');

/** Bytes arrive for so many seconds of the line's time, in steps. */
async function arrive(text: string, seconds: number, stepS = 1): Promise<void> {
  const endMs = clock.nowMs() + 1000 * seconds;
  while (clock.nowMs() < endMs) {
    line.feed(text);
    clock.aheadMs += 1000 * stepS;
    const ticked = line.ticks();
    await until('the line is watched', () => line.ticks() > ticked);
  }
}

describe('text without line ends', () => {
  test('is reported, and the lines after it are read', async () => {
    await arrive('D:1.752 T:198.4 '.repeat(25), 5);
    expect(incoming()).toMatchObject({ lacksLineEnds: true, isNoText: false, readingsPerS: 0 });
    await until('the alarm says so', () =>
      /Text arrives without line ends: end each line with println\.$/.test(standing('lineSilent')?.sentence ?? ''),
    );
    expect(searches).toBe(0);

    const lines = [1, 21, 41, 61, 81].map((ms) => LINE.replace('ms=1', `ms=${ms}`));
    line.feed(`\n${lines.join('')}`);
    await until('every line is read', () => line.monitor.snapshot().link.counters.readings === lines.length);
    expect(line.monitor.snapshot().link.counters.dropped.tooLong).toBe(1);
    await until('it is no longer said', () => !incoming().lacksLineEnds);
  });

  test('is not said of long lines that end', async () => {
    await arrive(`${'words and words '.repeat(20)}\n`, 5);
    expect(incoming().lacksLineEnds).toBe(false);
  });
});

describe('bytes that are no text', () => {
  test('start a search for the baud rate, which offers what it finds until lines can be read', async () => {
    await arrive(NOISE, 4);
    expect([incoming().isNoText, searches]).toEqual([true, 0]);
    await arrive(NOISE, 4);
    expect(searches).toBe(1);
    expect(incoming()).toMatchObject({ isNoText: true, baud: { current: 115_200, found: null, trying: 9600 } });
    rightRate = 9600;
    finish();
    await until('it is found', () => incoming().baud?.found === 9600);
    expect(incoming()).toMatchObject({ isNoText: true, baud: { current: 115_200, found: 9600, trying: null } });
    await arrive(NOISE, 70, 5);
    expect(searches).toBe(1);

    line.feed(`\n${LINE}${LINE}${LINE}`);
    await until('lines are read', () => line.monitor.snapshot().link.counters.readings > 0);
    await until('it is text', () => !incoming().isNoText);
    expect(incoming().baud).toEqual({ current: 115_200, found: null, trying: null });
  });

  test('are looked at again a minute later if nothing was found', async () => {
    await arrive(NOISE, 7);
    finish();
    await until('the search is over', () => incoming().baud?.trying === null);
    await arrive(NOISE, 30, 5);
    expect(searches).toBe(1);
    await arrive(NOISE, 45, 5);
    expect(searches).toBe(2);
  });

  test('start no search while readings arrive, and a late one on a line that could be read before', async () => {
    line.feed(`\n${LINE}`);
    await arrive(`${NOISE}\n${LINE}`, 12);
    expect(line.monitor.snapshot().link.counters.readings).toBeGreaterThan(10);
    await arrive(NOISE, 15);
    expect(searches).toBe(0);
    await arrive(NOISE, 20);
    expect(searches).toBe(1);
  });
});

describe('a reading on several lines', () => {
  let printed = 0;
  const block = (more: string) => {
    const swing = Math.sin(printed++);
    const pairs = Object.entries({ OD: 1.75 + swing / 100, T1: 200 + swing, SET1: 200, T2: 210 + swing, SET2: 210 });
    return `${pairs.map(([name, value]) => `${name}: ${value.toFixed(3)}\n`).join('')}${more}`;
  };

  test('with a title and a rule is not said to be garbled', async () => {
    for (let i = 0; i < 20; i++) await arrive(block('---\n== Line ==\n'), 1);
    expect(line.monitor.snapshot().link.counters.readings).toBeGreaterThan(10);
    expect(line.monitor.snapshot().link.droppedShare).toBe(0);
    const journal = [null, 1].flatMap((runId) => line.store.reader.alarmJournal(runId));
    expect(journal.filter(({ alarm }) => alarm.type === 'lineGarbled')).toEqual([]);
  });

  test('with a damaged line in four of them has lost one line in twenty', async () => {
    for (let i = 0; i < 16; i++) await arrive(block(i % 4 === 0 ? `~~~${'~'.repeat(i)}\n` : ''), 1);
    const { droppedShare } = line.monitor.snapshot().link;
    expect(droppedShare).toBeGreaterThan(0.03);
    expect(droppedShare).toBeLessThan(0.07);
  });
});

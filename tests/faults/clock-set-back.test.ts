/** A wrong clock is corrected backwards while nothing is recorded, as by NTP after a start without battery clock. */
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, expect, it } from 'vitest';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { MonotonicClock } from '../../server/monitor/clock.ts';
import { Heartbeat } from '../../server/notify/heartbeat.ts';
import { ClockAhead, type WatchedLine, watchLine } from '../monitor/watched-line.ts';

class WrongClock extends MonotonicClock {
  wrongByMs = 3_600_000;
  override nowMs(): number {
    return super.nowMs() + this.wrongByMs;
  }
  override wallClockAheadMs(): number {
    return -this.wrongByMs;
  }
  override followWallClock(): void {
    this.wrongByMs = 0;
  }
}

let line: WatchedLine | null = null;
afterEach(() => line?.remove());

it('writes what is pending all the same', async () => {
  const clock = new WrongClock();
  line = watchLine({}, { timing: 'live' }, clock);
  await expect.poll(() => clock.wrongByMs).toBe(0);
  const before = line!.ticks();
  await expect.poll(() => line!.ticks()).toBeGreaterThan(before + 1);
});

/** Set back by an hour as soon as it is wrong. */
class ClockSetBack extends ClockAhead {
  isWrong = false;
  #setBackMs = 0;
  override nowMs(): number {
    return super.nowMs() - this.#setBackMs;
  }
  override wallClockAheadMs(): number {
    return this.isWrong ? -3_600_000 : 0;
  }
  override followWallClock(): void {
    this.isWrong = false;
    this.#setBackMs += 3_600_000;
  }
}

it('goes on saying that the line is silent', async () => {
  const clock = new ClockSetBack();
  line = watchLine({}, { timing: 'live' }, clock);
  const silent = () => line!.monitor.snapshot().alarms.filter(({ type }) => type === 'lineSilent');
  for (let i = 0; i < 50; i++) line.feed(`ms=${i * 20} d=1.750\n`);
  clock.aheadMs += 60_000;
  await expect.poll(silent).toMatchObject([{ state: 'unacknowledged' }]);
  clock.isWrong = true;
  await expect.poll(() => clock.isWrong).toBe(false);
  for (let i = 0; i < 3; i++) {
    const before = line.ticks();
    await expect.poll(() => line!.ticks()).toBeGreaterThan(before);
    clock.aheadMs += 60_000;
  }
  expect(silent()).toMatchObject([{ state: 'unacknowledged' }]);
});

it('dates readings by the new time from the next one on', async () => {
  const clock = new ClockSetBack();
  line = watchLine({}, { timing: 'live' }, clock);
  for (const form of ['ms', 'no clock']) {
    clock.isWrong = true;
    const feed = (from: number, to: number) => {
      for (let i = from; i < to; i++)
        line!.feedAt(`${form === 'ms' ? `ms=${i * 20} ` : ''}d=1.750 v=35\n`, clock.nowMs() + (i - from) * 20);
    };
    feed(0, 100);
    await expect.poll(() => clock.isWrong).toBe(false);
    feed(100, 200);
    const timeMs = line.monitor.snapshot().last!.timeMs;
    expect(Math.abs(timeMs - clock.nowMs() - 1980)).toBeLessThan(500);
    await line.remove();
    line = watchLine({}, { timing: 'live' }, clock);
  }
});

it('sends the heartbeat all the same', async () => {
  let beats = 0;
  const server = createServer((_request, response) => {
    beats++;
    response.end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const heartbeatAddress = `http://127.0.0.1:${(server.address() as AddressInfo).port}/`;
  let nowMs = 7_200_000;
  const heartbeat = new Heartbeat(
    () => ({ ...DEFAULT_RULES, heartbeatAddress, heartbeatEveryS: 60 }),
    () => nowMs,
  );
  const beaten = async (count: number) => {
    heartbeat.tick();
    await expect.poll(() => beats).toBe(count);
    await expect.poll(() => heartbeat.state?.lastOkMs).toBe(nowMs);
  };
  try {
    await beaten(1);
    nowMs -= 3_600_000;
    await beaten(2);
  } finally {
    await heartbeat.stop();
    server.close();
  }
});

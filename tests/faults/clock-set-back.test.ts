/** A wrong clock is corrected backwards while nothing is recorded, as by NTP after a start without battery clock. */
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, expect, it } from 'vitest';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { MonotonicClock } from '../../server/monitor/clock.ts';
import { Heartbeat } from '../../server/notify/heartbeat.ts';
import { type WatchedLine, watchLine } from '../monitor/watched-line.ts';

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

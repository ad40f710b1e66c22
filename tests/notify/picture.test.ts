import { afterEach, describe, expect, it } from 'vitest';
import type { Alarm } from '../../server/alarm/alarm.ts';
import { awaitsAcknowledgement } from '../../server/alarm/life-cycle.ts';
import { CONTACT_DEFAULTS } from '../../server/escalation/contact.ts';
import type { Message } from '../../server/escalation/message.ts';
import { messagesOf } from '../../server/notify/messages.ts';
import { readTrace } from '../../server/notify/picture/read-trace.ts';
import { type Trace, tracePicture } from '../../server/notify/picture/trace-picture.ts';
import type { Source, SourceListener } from '../../server/source/source.ts';
import { startTestService, type TestService, woundFromLines } from '../api/test-service.ts';
import { alarmOf } from '../escalation/alarms.ts';
import { until } from '../service/running-service.ts';
import { decodePng } from './decode-png.ts';

const LIMITS = { nominalMm: 1.75, toleranceMm: 0.05, hotendLimitMm: 1.9, smallestFeedableMm: 1.6 };

function traceWithBlob(): Trace {
  const positionMm = Float64Array.from({ length: 1000 }, (_, i) => 41_000 + i / 2);
  const diameterMm = positionMm.map((mm) => (mm >= 41_250 && mm < 41_251 ? 2.1 : 1.75));
  const section = { fromMm: 41_249, toMm: 41_252 };
  return { spoolOrdinal: 1, fromSpoolMm: 41_000, toSpoolMm: 41_500, positionMm, diameterMm, section, limits: LIMITS };
}

describe('the picture of the strand around a blob', () => {
  it('shows a peak of two readings at its place and height, and describes it in text', () => {
    const picture = tracePicture(traceWithBlob())!;
    expect(picture.text).toBe(
      'Diameter from 41.00 m to 41.50 m of spool 1: 1.75 to 2.10 mm, nominal 1.75 mm, hotend limit 1.9 mm.',
    );
    const { width, height, colourAt } = decodePng(picture.png);
    expect([width, height]).toEqual([640, 260]);
    // The leftmost and rightmost columns that are red well above the dashed limit.
    const red: number[] = [];
    for (let x = 84; x < 626; x++) if (colourAt(x, 40) === 'c4161c') red.push(x);
    const middle = (red[0]! + red.at(-1)!) / 2;
    expect(red.length).toBeGreaterThanOrEqual(1);
    expect(Math.abs(middle - (84 + (626 - 84) / 2))).toBeLessThan(4);
    // Small enough for a message.
    expect(picture.png.length).toBeLessThan(8000);
  });

  it('leaves a gap where nothing was measured, and does not exist if nothing was measured at all', () => {
    const trace = traceWithBlob();
    trace.diameterMm.fill(Number.NaN, 100, 300);
    const { colourAt } = decodePng(tracePicture(trace)!.png);
    const inked = (x: number) => Array.from({ length: 200 }, (_, y) => colourAt(x, y + 16)).includes('16201e');
    expect([inked(100), inked(190), inked(300)]).toEqual([true, false, true]);
    trace.diameterMm.fill(Number.NaN);
    expect(tracePicture(trace)).toBeNull();
  });
});

describe('the source of the picture in a message', () => {
  let service: TestService;
  afterEach(() => service.stop());

  /** A blob of five readings, 2 m into the strand, with the gauge at the winder. */
  const lines = Array.from(
    { length: 2500 },
    (_, i) =>
      `ms=${i * 20} n=${i} d=${i >= 1000 && i < 1005 ? '2.050' : (1.75 + (i % 7) * 0.001).toFixed(3)} v=100 len=${i * 2}`,
  );
  const partsOf = ({ store, monitor }: TestService) => ({
    reader: store.reader,
    samples: store.columns,
    limits: () => monitor.settings,
  });
  const raised = (): Alarm => service.store.reader.alarmJournal(1).find(({ alarm }) => alarm.type === 'blob')!.alarm;
  const pictureFor = (alarm: Alarm, runId: number | null = 1): Message['picture'] => {
    const contact = {
      id: 1,
      name: 'Ada',
      channelIds: [1],
      leastPriority: 'low',
      quiet: null,
      round: 1,
      ...CONTACT_DEFAULTS,
    } as const;
    const notification = {
      alarm,
      kind: 'raised',
      step: 'raised',
      recipients: [{ contact, urgency: { getUp: true, why: '' } }],
      by: null,
      sinceMs: 0,
      waitedMs: 0,
    } as const;
    const head = { lineName: 'Line', runId, timeZone: 'UTC', nowMs: 0, answerSecret: 'secret' };
    return messagesOf(notification, head)[0]!.message.picture;
  };
  const moveStart = async (startGaugeMm: number) =>
    expect((await service.send('POST', '/api/spools/1/start', { startGaugeMm })).status).toBe(200);

  it('is found by gauge length, also after the start of the spool was moved', async () => {
    service = await woundFromLines(lines);
    const { facts } = raised();
    expect(facts).toMatchObject({ runId: 1, spoolOrdinal: 1 });
    expect(Math.abs(facts.fromGaugeMm! - 2000)).toBeLessThan(10);
    // The message is made once; its strand is looked up when it is sent.
    const of = pictureFor(raised())!;
    const before = (await readTrace(of, partsOf(service)))!;
    expect([before.fromSpoolMm, before.toSpoolMm]).toEqual([before.section.fromMm - 250, before.section.toMm + 250]);
    const { startGaugeMm } = service.store.reader.spool(1)!;
    await moveStart(startGaugeMm + 1200);
    const after = (await readTrace(of, partsOf(service)))!;
    expect(after.diameterMm).toEqual(before.diameterMm);
    expect(after.section.fromMm).toBeCloseTo(before.section.fromMm - 1200, 6);
    expect(after.positionMm[after.diameterMm.indexOf(2.05)]).toBeCloseTo(
      before.positionMm[before.diameterMm.indexOf(2.05)]! - 1200,
      6,
    );
    expect(tracePicture(after)!.text).toMatch(/to 2\.05 mm/);
    // The sentence keeps the place that it was sent with.
    expect(raised().sentence).toContain(`at ${(facts.spoolMm! / 1000).toFixed(2)} m of spool 1`);
    await moveStart(startGaugeMm + 3000);
    expect(await readTrace(of, partsOf(service))).toBeNull();
  });

  it('follows a moved start in a message that waits in the outbox, and at its link', async () => {
    let listener: SourceListener | undefined;
    const source: Source = {
      title: 'a line that is live',
      timing: 'live',
      resumable: false,
      start: (started) => {
        listener = started;
        started.opened();
      },
      stop: async () => {},
    };
    service = await startTestService(source, { gaugeToWinderMm: 0 });
    const { notifier, store, monitor } = service;
    // Nothing listens there, so the message waits.
    const settings = { kind: 'webhook', url: 'http://127.0.0.1:9/', secret: '', template: '' } as const;
    const { id } = await notifier.addChannel({ name: 'Hook', settings }, 'test');
    notifier.addContact(
      { name: 'Ada', channelIds: [id], leastPriority: 'low', quiet: null, round: 1, ...CONTACT_DEFAULTS },
      'test',
    );
    monitor.start();
    monitor.setStage('winding', 'test');
    listener!.bytes(Buffer.from(lines.map((line) => `${line}\n`).join(''), 'latin1'), null);
    const { message } = await until(
      () => store.people.waiting()[0],
      (entry) => entry !== undefined,
      'a message waits',
    ).then((entry) => entry!);
    const token = message.answerPath!.split('/').at(-1)!;
    const rangeOf = async () => {
      // Readings are written once a second.
      const picture = await until(
        () => notifier.picture(token),
        (one) => one !== null,
        'the picture is there',
      );
      const { text } = picture!;
      expect(text).toMatch(/ of spool 1: 1\.75 to 2\.05 mm/);
      return /from ([\d.]+) m to ([\d.]+) m/.exec(text)!.slice(1).map(Number);
    };
    const [from, to] = await rangeOf();
    await moveStart(store.reader.spool(1)!.startGaugeMm + 1200);
    const moved = await rangeOf();
    expect(moved[0]).toBeCloseTo(from! - 1.2, 1);
    expect(moved[1]).toBeCloseTo(to! - 1.2, 1);
    // The text stays as it was written.
    expect(store.people.waiting()[0]!.message.text).toBe(message.text);
    // Once the alarm is closed, the link shows nothing of the line any more.
    const more = Array.from({ length: 6000 }, (_, i) => i + lines.length);
    listener!.bytes(Buffer.from(more.map((i) => `ms=${i * 20} n=${i} d=1.750 v=100 len=${i * 2}\n`).join('')), null);
    await until(
      () => {
        // On a busy machine the line may be silent for a while, which suspends its alarms.
        for (const { id, state } of monitor.alarms.standing())
          if (awaitsAcknowledgement(state)) monitor.alarms.acknowledge(id, { name: 'Ada', from: 'test' });
        return monitor.alarms.find(message.alarmId ?? 0);
      },
      (alarm) => alarm === null,
      'the alarm is closed',
    );
    expect(await notifier.picture(token)).toBeNull();
  });

  it('has the limits that were in force when the strand passed the gauge', async () => {
    service = await woundFromLines(lines, { hotendLimitMm: 1.95 });
    const of = pictureFor(raised())!;
    expect((await service.send('PUT', '/api/settings', { hotendLimitMm: 2.2 })).status).toBe(200);
    expect((await readTrace(of, partsOf(service)))!.limits.hotendLimitMm).toBe(1.95);
  });

  it('is found by position on the spool for alarms and messages from before gauge lengths were stored', async () => {
    service = await woundFromLines(lines);
    const { startGaugeMm } = service.store.reader.spool(1)!;
    const fromSpoolMm = 2000 - startGaugeMm;
    const old = alarmOf('high', { facts: { spoolMm: fromSpoolMm + 4, fromSpoolMm, spoolOrdinal: 1, lengthMm: 10 } });
    const of = pictureFor(old)!;
    expect(of).toEqual({ runId: 1, spoolOrdinal: 1, fromMm: fromSpoolMm, lengthMm: 10 });
    const trace = (await readTrace(of, partsOf(service)))!;
    expect([trace.fromSpoolMm, trace.toSpoolMm]).toEqual([fromSpoolMm - 250, fromSpoolMm + 260]);
    expect(trace.section).toEqual({ fromMm: fromSpoolMm, toMm: fromSpoolMm + 10 });
    expect(Math.max(...trace.diameterMm)).toBe(2.05);
    expect(trace.positionMm[trace.diameterMm.indexOf(2.05)]! + startGaugeMm).toBeCloseTo(2000, 0);
    expect(await readTrace({ runId: 1, spoolOrdinal: 9, fromMm: 0, lengthMm: 10 }, partsOf(service))).toBeNull();
    expect(pictureFor(old, null)).toBeNull();
  });

  it('is the strand of its own run even if another run has started by the time it is sent', async () => {
    service = await woundFromLines(lines);
    expect(pictureFor(raised(), 7)).toMatchObject({ runId: 1 });
  });
});

import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import type { LineMonitorParts } from '../../server/monitor/line/line-monitor-parts.ts';
import { LineMonitor } from '../../server/monitor/line-monitor.ts';
import { SteadyClock } from '../../server/monitor/steady-clock.ts';
import { Problem } from '../../server/problem/problem.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { Source } from '../../server/source/source.ts';
import { openStore, type Store } from '../../server/store/index.ts';

let folder: string;
let store: Store;
/** What happened to sources, in order. */
let happened: string[];
/** Called when a source is told to stop, which takes until `closed`. */
let stopCalled = () => {};
let closed: Promise<void>;
let errors: { what: string; facts: unknown }[];

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-life-'));
  store = openStore({ folder, readers: 'sameThread' });
  happened = [];
  errors = [];
  stopCalled = () => {};
  closed = Promise.resolve();
});
afterEach(async () => {
  await store.close();
  rmSync(folder, { recursive: true });
});

function source(address: string): Source {
  happened.push(`opened ${address}`);
  return {
    title: address,
    timing: 'live',
    resumable: true,
    start(listener) {
      happened.push(`started ${address}`);
      listener.opened();
      const lines = Array.from({ length: 50 }, (_, i) => `ms=${i * 20} d=1.75 v=20\n`);
      listener.bytes(Buffer.from(lines.join('')), null);
    },
    async stop() {
      stopCalled();
      await closed;
      happened.push(`stopped ${address}`);
    },
  };
}

function monitorOf(parts: Partial<LineMonitorParts> = {}): LineMonitor {
  return new LineMonitor({
    clock: new SteadyClock(),
    log: { info: () => {}, warn: () => {}, error: (what, facts) => void errors.push({ what, facts }) },
    writer: store.writer,
    reader: store.reader,
    samples: store.samples,
    flushSamples: (nowMs) => store.tick(nowMs),
    openSource: source,
    unusableSource: (problem) => {
      throw problem;
    },
    settings: { ...defaultLineSettings(), source: 'tcp://first:1' },
    fixedSource: null,
    timeZone: 'UTC',
    ...parts,
  });
}

test('a monitor that was only made touches neither record nor source, and ends without them', async () => {
  const untouched = new Proxy(
    {},
    { get: (_, name) => expect.unreachable(`The record was asked for ${String(name)}.`) },
  );
  const { writer, reader, samples } = { writer: untouched, reader: untouched, samples: untouched } as LineMonitorParts;
  const monitor = monitorOf({ writer, reader, samples });
  expect(monitor.settings.source).toBe('tcp://first:1');
  expect(() => monitor.snapshot()).toThrow(TypeError);
  await monitor.stop();
  expect(happened).toEqual([]);
  expect(() => monitor.start()).toThrow(/cannot be started: it is stopped/);
});

test('an open monitor answers people, but starts its source only when it is started', async () => {
  const monitor = monitorOf();
  monitor.open();
  monitor.setStage('purging', 'Ada');
  expect(monitor.snapshot().stage.stage).toBe('purging');
  expect(happened).toEqual(['opened tcp://first:1']);
  monitor.start();
  expect(happened).toEqual(['opened tcp://first:1', 'started tcp://first:1']);
  expect(() => monitor.start()).toThrow(/cannot be started: it is watching/);
  await Promise.all([monitor.stop(), monitor.stop()]);
  expect(happened.at(-1)).toBe('stopped tcp://first:1');
  expect(happened).toHaveLength(3);
});

test('another source that is set before the start is not started before it', async () => {
  const monitor = monitorOf();
  monitor.open();
  await monitor.applySettings({ source: 'tcp://second:2' }, 'Ada');
  expect(happened.filter((what) => what.startsWith('started'))).toEqual([]);
  monitor.start();
  await monitor.stop();
  expect(happened.filter((what) => what.startsWith('started'))).toEqual(['started tcp://second:2']);
});

test('a stop while the old source is being closed starts no other source', async () => {
  const monitor = monitorOf();
  monitor.start();
  const called = new Promise<void>((resolve) => {
    stopCalled = resolve;
  });
  let close = () => {};
  closed = new Promise((resolve) => {
    close = resolve;
  });
  const changed = monitor.applySettings({ source: 'tcp://second:2' }, 'Ada');
  await called;
  const ended = monitor.stop();
  close();
  await Promise.all([changed, ended]);
  expect(happened).toContain('stopped tcp://first:1');
  expect(happened).not.toContain('started tcp://second:2');
});

test('a given address that cannot be used is told when the monitor is opened, which can be tried again', async () => {
  const problem = new Problem('source-unusable', 'There is no such file.', 'Give another one.');
  let there = false;
  const monitor = monitorOf({
    fixedSource: 'file:night.log',
    openSource: (address) => {
      if (!there) throw problem;
      return source(address);
    },
  });
  expect(() => monitor.open()).toThrow(problem);
  there = true;
  monitor.open();
  expect(monitor.snapshot().link.sourceTitle).toBe('file:night.log');
  await monitor.stop();
});

test('a listener that fails harms neither its neighbours nor the line, and the log says at what it failed', async () => {
  const monitor = monitorOf();
  const heard = { readings: 0, changes: 0 };
  const fail = () => {
    throw new Error('no room');
  };
  monitor.subscribe({ reading: fail, changed: fail });
  const leave = monitor.subscribe({ reading: () => void heard.readings++, changed: () => void heard.changes++ });
  monitor.start();
  expect(heard.readings).toBe(50);
  monitor.setStage('purging', 'Ada');
  expect(heard.changes).toBeGreaterThan(0);
  expect(errors).toContainEqual({
    what: 'A listener of the monitor failed',
    facts: { event: 'reading', why: 'no room' },
  });
  expect(errors).toContainEqual({
    what: 'A listener of the monitor failed',
    facts: { event: 'changed', why: 'no room' },
  });
  const { changes } = heard;
  leave();
  monitor.setStage('heating', 'Ada');
  expect(heard.changes).toBe(changes);
  await monitor.stop();
});

import { rmSync } from 'node:fs';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { MonotonicClock } from '../../server/monitor/clock.ts';
import type { LineMonitorParts } from '../../server/monitor/line/line-monitor-parts.ts';
import { createLineMonitor, type LineMonitor } from '../../server/monitor/line-monitor.ts';
import { Problem } from '../../server/problem/problem.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { Source } from '../../server/source/source.ts';
import { openStore, type Store } from '../../server/store/index.ts';
import { newRecord } from '../store/new-record.ts';

let folder: string;
let store: Store;
/** Events of sources, in order. */
let events: string[];
/** Called when a source is asked to stop, which takes until `closed`. */
let stopCalled = () => {};
let closed: Promise<void>;
let errors: { what: string; facts: unknown }[];

beforeEach(() => {
  folder = newRecord('strandward-life-');
  store = openStore({ folder, readers: 'sameThread' });
  events = [];
  errors = [];
  stopCalled = () => {};
  closed = Promise.resolve();
});
afterEach(async () => {
  await store.close();
  rmSync(folder, { recursive: true });
});

function source(address: string): Source {
  events.push(`opened ${address}`);
  return {
    title: address,
    timing: 'live',
    resumable: true,
    start(listener) {
      events.push(`started ${address}`);
      listener.opened();
      const lines = Array.from({ length: 50 }, (_, i) => `ms=${i * 20} d=1.75 v=20\n`);
      listener.bytes(Buffer.from(lines.join('')), null);
    },
    async stop() {
      stopCalled();
      await closed;
      events.push(`stopped ${address}`);
    },
  };
}

function monitorOf(parts: Partial<LineMonitorParts> = {}): LineMonitor {
  return createLineMonitor({
    clock: new MonotonicClock(),
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

test('a monitor that was only created touches neither record nor source', async () => {
  const untouched = new Proxy(
    {},
    { get: (_, name) => expect.unreachable(`The record was asked for ${String(name)}.`) },
  );
  const { writer, reader, samples } = { writer: untouched, reader: untouched, samples: untouched } as LineMonitorParts;
  const monitor = monitorOf({ writer, reader, samples });
  expect(monitor.settings.source).toBe('tcp://first:1');
  expect(() => monitor.snapshot()).toThrow(TypeError);
  await monitor.stop();
  expect(events).toEqual([]);
  expect(() => monitor.start()).toThrow(/cannot be started: it is stopped/);
});

test('an open monitor answers requests, but starts its source only when started', async () => {
  const monitor = monitorOf();
  monitor.open();
  monitor.setStage('purging', 'Ada');
  expect(monitor.snapshot().stage.stage).toBe('purging');
  expect(events).toEqual(['opened tcp://first:1']);
  monitor.start();
  // The run that began with that stage goes on, in the record too.
  expect(store.reader.runs()).toMatchObject([{ id: monitor.snapshot().run?.id, endedMs: null }]);
  expect(events).toEqual(['opened tcp://first:1', 'started tcp://first:1']);
  expect(() => monitor.start()).toThrow(/cannot be started: it is watching/);
  await Promise.all([monitor.stop(), monitor.stop()]);
  expect(events.at(-1)).toBe('stopped tcp://first:1');
  expect(events).toHaveLength(3);
});

test('a new source set before the start is not started early', async () => {
  const monitor = monitorOf();
  monitor.open();
  await monitor.applySettings({ source: 'tcp://second:2' }, 'Ada');
  expect(events.filter((what) => what.startsWith('started'))).toEqual([]);
  monitor.start();
  await monitor.stop();
  expect(events.filter((what) => what.startsWith('started'))).toEqual(['started tcp://second:2']);
});

test('a stop during a change of source does not start the new one', async () => {
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
  expect(events).toContain('stopped tcp://first:1');
  expect(events).not.toContain('started tcp://second:2');
});

test('an unusable address fails when the monitor is opened, which can be retried', async () => {
  const problem = new Problem('source-unusable', 'There is no such file.', 'Give another one.');
  let exists = false;
  const monitor = monitorOf({
    fixedSource: 'file:night.log',
    openSource: (address) => {
      if (!exists) throw problem;
      return source(address);
    },
  });
  expect(() => monitor.open()).toThrow(problem);
  exists = true;
  monitor.open();
  expect(monitor.snapshot().link.sourceTitle).toBe('file:night.log');
  await monitor.stop();
});

test('a failing listener disturbs neither the others nor the line, and is logged', async () => {
  const monitor = monitorOf();
  const received = { readings: 0, changes: 0 };
  const fail = () => {
    throw new Error('broken');
  };
  monitor.subscribe({ reading: fail, changed: fail });
  const unsubscribe = monitor.subscribe({
    reading: () => void received.readings++,
    changed: () => void received.changes++,
  });
  monitor.start();
  expect(received.readings).toBe(50);
  monitor.setStage('purging', 'Ada');
  expect(received.changes).toBeGreaterThan(0);
  expect(errors).toContainEqual({
    what: 'A listener of the monitor failed',
    facts: { event: 'reading', why: 'broken' },
  });
  expect(errors).toContainEqual({
    what: 'A listener of the monitor failed',
    facts: { event: 'changed', why: 'broken' },
  });
  const { changes } = received;
  unsubscribe();
  monitor.setStage('heating', 'Ada');
  expect(received.changes).toBe(changes);
  await monitor.stop();
});

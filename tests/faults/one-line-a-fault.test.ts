/** A fault that repeats for days fills no disk with log lines. */
import fastify from 'fastify';
import { pino } from 'pino';
import { expect, test } from 'vitest';
import { replyWithProblem } from '../../server/api/problem-reply.ts';
import { MonotonicClock } from '../../server/monitor/clock.ts';
import { createLink } from '../../server/monitor/line/connection.ts';
import { Listeners } from '../../server/monitor/line/listeners.ts';
import { SettingsInForce, withLimits } from '../../server/monitor/line/settings-in-force.ts';
import { Problem } from '../../server/problem/problem.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { SourceListener } from '../../server/source/source.ts';

function collected() {
  const lines: string[] = [];
  const add = (what: string) => void lines.push(what);
  return { lines, log: { info: add, warn: add, error: add } };
}

test('a cable that is out is logged once, until readings have arrived again', () => {
  const { lines, log } = collected();
  const sent: { to: SourceListener | null } = { to: null };
  const link = createLink(
    {
      clock: new MonotonicClock(),
      log,
      fixedSource: 'board',
      settings: new SettingsInForce(withLimits(defaultLineSettings())),
      listener: { reading: () => {}, linesTaken: () => {}, note: () => {}, status: () => {}, remark: () => {} },
      openSource: () => ({
        title: 'a board',
        timing: 'live',
        resumable: true,
        start: (listener) => {
          sent.to = listener;
        },
        stop: async () => {},
      }),
      unusableSource: (problem) => {
        throw problem;
      },
    },
    null,
  );
  link.start();
  const waitingFor = (s: number) =>
    sent.to!.status({
      phase: 'waiting',
      text: `Cannot open the port: no such device. Another attempt follows ${s} s later.`,
      fault: 'Cannot open the port: no such device.',
    });
  for (const s of [0.25, 0.5, 1, 2, 4, ...Array<number>(1000).fill(5)]) waitingFor(s);
  expect(lines).toEqual([expect.stringMatching(/no such device/)]);
  sent.to!.status({ phase: 'open', text: 'Reading from the port.' });
  for (let n = 1; n <= 100; n++) sent.to!.bytes(Buffer.from(`ms=${n * 20} d=1.75 v=35\n`), Date.now());
  waitingFor(0.25);
  expect(lines.filter((line) => /no such device/.test(line))).toHaveLength(2);
});

test('a listener that fails for every change is logged once, another one as well', () => {
  const { lines, log } = collected();
  const listeners = new Listeners(log);
  const failing = () => ({
    changed: () => {
      throw new Error('broken');
    },
  });
  listeners.add(failing());
  listeners.add(failing());
  for (let n = 0; n < 1000; n++) listeners.changed();
  expect(lines).toHaveLength(2);
});

test('a probe that is told for days that nothing is watched is not logged, a defect is', async () => {
  const { lines, log } = collected();
  const api = fastify({ loggerInstance: pino({ level: 'warn' }, { write: log.error }) });
  api.setErrorHandler(replyWithProblem);
  api.get('/ready', () => {
    throw new Problem('not-ready', 'Strandward is not watching the line.', 'Check the cable.');
  });
  api.get('/broken', () => {
    throw new TypeError('a defect');
  });
  const statusOf = async (url: string) => (await api.inject({ url })).statusCode;
  for (let n = 0; n < 100; n++) expect(await statusOf('/ready')).toBe(503);
  expect(lines).toEqual([]);
  expect(await statusOf('/broken')).toBe(500);
  expect(lines).toEqual([expect.stringMatching(/a defect/)]);
});

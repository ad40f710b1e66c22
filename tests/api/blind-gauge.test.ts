import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CATALOGUE } from '../../server/alarm/catalogue.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { RunDetail, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { SCENARIOS } from '../../simulator/scenarios/index.ts';
import { normal, seeded } from '../chance.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { type TestService, woundBySimulator, woundFromLines } from './test-service.ts';

/** How long the scenario's script leaves the gauge frozen, s. */
const [from, to] = SCENARIOS.get('gauge-frozen')!.script.filter((step) => step.do === 'gauge-fault');
const FROZEN_S = to!.atS - from!.atS;
let service: TestService;

beforeAll(async () => {
  service = await woundBySimulator('gauge-frozen?seed=1', 9000);
}, 60_000);
afterAll(() => service?.stop());

describe('strand that passed a frozen gauge', () => {
  it('is unknown on the spool, from the first repeated reading to the last', async () => {
    const { sections } = await service.get<SpoolDetail>('/api/spools/1');
    const unknown = sections.filter((section) => section.kind === 'unknown');
    expect(unknown).toHaveLength(1);
    const [section] = unknown;
    expect((section!.toTimeMs! - section!.fromTimeMs!) / 1000).toBeCloseTo(FROZEN_S, 0);
    // The scenario's puller runs at 35 mm/s, plus or minus its variation.
    expect(section!.toSpoolMm! - section!.fromSpoolMm!).toBeGreaterThan(0.9 * 35 * FROZEN_S);
  });

  it.skipIf(!IS_LONG_CHECK)('is also unknown when the spool is judged again', async () => {
    const { sections: live } = await service.get<SpoolDetail>('/api/spools/1');
    const { sections: judgedAgain, totals } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
    expect(judgedAgain).toEqual(live);
    expect(totals.unknownMm).toBeGreaterThan(0.9 * 35 * FROZEN_S);
  });
});

describe('a gauge that stops sending a diameter, or sends an impossible one', () => {
  const line = (i: number, diameter: string) => `ms=${i * 20} ${diameter}t1=200.0 s1=200 p1=0.40 v=35.0`;
  const good = (i: number) => `d=${(1.75 + 0.003 * Math.sin(i)).toFixed(3)} `;

  it.each(
    casesOf(
      [
        ['none', ''],
        ['micrometres', 'd=1750 '],
      ],
      1,
    ),
  )('raises an alarm within seconds: %s', { timeout: 60_000 }, async (_, diameter) => {
    // A minute of strand, ten seconds without a diameter, and a minute more.
    const lines = Array.from({ length: 6500 }, (_, i) => line(i, i >= 3000 && i < 3500 ? diameter : good(i)));
    const service = await woundFromLines(lines);
    try {
      const { alarms } = await service.get<RunDetail>('/api/runs/1');
      const steps = alarms.filter(({ alarm }) => alarm.type === 'gaugeMissing');
      expect(steps.map(({ step }) => step)).toEqual(['raised', 'returned']);
      expect(steps[0]!.alarm).toMatchObject({ priority: 'high' });
      // The diameter has been gone for three seconds then, plus or minus one evaluation of the rules.
      expect((steps[1]!.timeMs - steps[0]!.timeMs) / 1000).toBeCloseTo(10 - 3 + CATALOGUE.gaugeMissing.offDelayS, 0);
      expect(alarms.filter(({ alarm }) => alarm.type !== 'gaugeMissing')).toEqual([]);
      const { sections } = await service.get<SpoolDetail>('/api/spools/1');
      expect(sections.map(({ kind }) => kind)).toEqual(['unknown']);
    } finally {
      await service.stop();
    }
  });
});

describe('a gauge that can be believed in part', () => {
  const gauss = normal(seeded(2));
  const noisy = (mm: number) => mm + 0.006 * gauss();
  const blob = (i: number) =>
    i % 1500 > 700 && i % 1500 < 730 ? 0.4 * Math.sin((Math.PI * ((i % 1500) - 700)) / 30) : 0;
  /** Two minutes of strand at 35 mm/s. */
  const wound = (fields: (i: number) => string) =>
    woundFromLines(Array.from({ length: 6000 }, (_, i) => `ms=${i * 20} ${fields(i)} v=35.0`));

  it('is alarmed where its range ends below the hotend limit, and its strand is never called fit', async () => {
    const service = await wound((i) => `d=${Math.min(1.88, noisy(1.75) + blob(i)).toFixed(3)}`);
    try {
      const { alarms } = await service.get<RunDetail>('/api/runs/1');
      const blind = alarms.filter(({ alarm }) => alarm.type === 'gaugeBlind');
      expect(blind[0]).toMatchObject({ step: 'raised', alarm: { priority: 'high' } });
      expect(blind[0]!.alarm.sentence).toBe(
        'The gauge shows no more than 1.88 mm, less than the hotend limit of 1.90 mm. Blobs are not being watched.',
      );
      const { sections, verdict, advice } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
      expect(sections).toContainEqual(expect.objectContaining({ kind: 'unknown', doubt: 'gaugeBlind' }));
      expect(verdict?.fitness).toBe('unknown');
      expect(advice.map(({ kind }) => kind)).toContain('gaugeBlind');
    } finally {
      await service.stop();
    }
  }, 60_000);

  it.each(
    casesOf(
      [
        ['no value', 'dy=nan'],
        ['nothing in it', 'dy=0.000'],
        ['the same value for ever', 'dy=1.751'],
      ],
      1,
    ),
  )(
    'goes on with one axis where the other sends %s, and says so',
    async (_, dead) => {
      const service = await wound(
        (i) =>
          `dx=${(noisy(1.75) + blob(i)).toFixed(3)} ${i < 3000 ? `dy=${(noisy(1.76) + blob(i)).toFixed(3)}` : dead}`,
      );
      try {
        const { alarms } = await service.get<RunDetail>('/api/runs/1');
        expect(new Set(alarms.map(({ alarm }) => alarm.type))).toEqual(new Set(['blob']));
        const { sections, advice } = await service.get<SpoolJudgement>('/api/spools/1/judgement');
        expect(sections.filter(({ kind }) => kind === 'unknown')).toEqual([]);
        // The blobs at 85 s and 115 s passed only one axis.
        expect(sections.filter(({ kind, verdict }) => kind === 'blob' && verdict === 'discard')).toHaveLength(4);
        expect(advice.filter(({ kind }) => kind === 'axisDead')).toHaveLength(1);
      } finally {
        await service.stop();
      }
    },
    60_000,
  );
});

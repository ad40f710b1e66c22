import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judgementOf } from '../../server/monitor/spool/judgement.ts';
import { SectionService } from '../../server/monitor/spool/section-service.ts';
import type { MeasuredSection, StatedSection, Verdict } from '../../server/strand/section.ts';
import { tries } from '../long-check.ts';
import { blob, RUN, SPOOL, wound } from '../monitor/judged-spool.ts';
import { withStore } from '../store/readings.ts';
import { USUAL_LIMITS } from '../strand/usual-limits.ts';
import { woundFromLines } from './test-service.ts';

const END_MM = 400;

/** Sections of the same kind are separate; sections of different kinds may overlap. */
const found = fc
  .array(
    fc.record({
      kind: fc.constantFrom<MeasuredSection['kind']>('blob', 'offTolerance'),
      gap: fc.integer({ min: 1, max: 40 }),
      length: fc.integer({ min: 1, max: 120 }),
    }),
    { minLength: 1, maxLength: 6 },
  )
  .map((parts) => {
    const at: Partial<Record<MeasuredSection['kind'], number>> = {};
    return parts.flatMap(({ kind, gap, length }, i) => {
      const fromMm = (at[kind] ?? 0) + gap;
      at[kind] = fromMm + length;
      return at[kind]! > END_MM ? [] : [{ ...blob(i + 1, fromMm, at[kind]!), kind }];
    });
  });

const steps = fc.array(
  fc.record({
    what: fc.constantFrom('adjust', 'adjust', 'moveEdges', 'remove', 'mark'),
    /** 0 = the limits that it was wound under. */
    printer: fc.integer({ min: 0, max: 2 }),
    which: fc.nat(50),
    verdict: fc.constantFrom<Verdict>('good', 'doubtful', 'discard'),
    fromSpoolMm: fc.integer({ min: 0, max: END_MM - 50 }),
    lengthMm: fc.integer({ min: 1, max: 50 }),
  }),
  { minLength: 1, maxLength: 14 },
);

const ONE_MM_ON = {
  what: 'moveEdges',
  printer: 1,
  which: 0,
  verdict: 'good',
  fromSpoolMm: 14,
  lengthMm: 1,
} as const;

/** 0 outside, 1 inside, with flanks of 40 mm. */
const within = (mm: number, fromMm: number, toMm: number): number =>
  Math.max(0, Math.min(1, (mm - fromMm) / 40, (toMm - mm) / 40));

/** 6 m of strand somewhat too thick, with 1 m in it that is thicker. */
function* thickWithin(): Iterable<string> {
  for (let mm = 0; mm <= 20_000; mm += 2) {
    const thickMm = 0.05 * within(mm, 8000, 14_000) + 0.08 * within(mm, 10_000, 11_000);
    yield `ms=${mm * 50} n=${mm} d=${(1.75 + thickMm + 0.003 * Math.sin(mm * 12.9898)).toFixed(3)} v=20 len=${mm}`;
  }
}

interface ShownSection {
  readonly id: string;
  readonly fromSpoolMm: number;
  readonly toSpoolMm: number;
  readonly verdict: string;
  readonly origin: string;
}

describe('a section that becomes three for a stricter printer', () => {
  it('keeps its id and its statements, and each of the others can be changed', async () => {
    const limits = { toleranceMm: 0.1, hotendLimitMm: 2.05, smallestFeedableMm: 1.5, shortestCoilMm: 2000 };
    const service = await woundFromLines(thickWithin(), limits);
    try {
      const shown = async () => (await service.get<{ sections: ShownSection[] }>('/api/spools/1')).sections;
      const state = (one: ShownSection, verdict: string) => {
        const { fromSpoolMm, toSpoolMm } = one;
        return service.send('PUT', `/api/spools/1/sections/${one.id}`, { fromSpoolMm, toSpoolMm, verdict });
      };
      const [recorded] = await shown();
      expect((await state(recorded!, 'good')).status).toBe(200);
      const onLine = (await shown())[0]!;
      const narrow = { name: 'Narrow', hotendLimitMm: 1.95, smallestFeedableMm: 1.6, toleranceMm: 0.03, note: '' };
      const { body } = await service.send('POST', '/api/printers', narrow);
      await service.send('PUT', '/api/spools/1/choices', { printerId: (body as { id: number }).id });

      const before = await shown();
      expect(before).toHaveLength(3);
      expect(before[1]).toMatchObject({ id: recorded!.id, verdict: 'good', origin: 'adjusted' });
      for (const i of [0, 2]) {
        const now = await shown();
        expect(await state(now[i]!, 'discard')).toMatchObject({ status: 200, body: { id: now[i]!.id } });
        expect(await shown()).toEqual(
          now.map((one, k) => (k === i ? expect.objectContaining({ verdict: 'discard' }) : one)),
        );
      }
      await service.send('PUT', '/api/spools/1/choices', { printerId: 0 });
      expect(await shown()).toContainEqual(onLine);
    } finally {
      await service.stop();
    }
  });
});

describe('a section as a printer shows it', () => {
  it('is changed by its id, and nothing else is changed', async () => {
    await withStore(({ writer, reader }) =>
      fc.assert(
        fc.asyncProperty(found, found, found, steps, fc.constantFrom(0, 1e6), async (...given) => {
          const [recorded, shownBy1, shownBy2, wanted, clockMs] = given;
          const run = writer.beginRun({ startedMs: 0, timeZone: 'UTC', sourceTitle: '' });
          const unseen = { ...blob(99, END_MM - 20, END_MM), kind: 'unknown' as const };
          const byPrinter = [[...recorded, unseen], shownBy1, shownBy2];
          let printer = 0;
          const stated = () => reader.statedSections(run.id);
          const judge = async () => {
            const woundSpool = wound({
              run: { ...RUN, id: run.id },
              spool: { ...SPOOL, startGaugeMm: 0, endGaugeMm: END_MM },
              startGaugeMm: 0,
              endGaugeMm: END_MM,
              reachGaugeMm: END_MM,
              recorded,
              stated: stated(),
            });
            const basis = printer === 0 ? 'recorded' : 'readings';
            const sections = byPrinter[printer]!;
            const suppression = { shortestCoilMm: 5000, meanDiameterMm: null };
            return judgementOf(woundSpool, { kind: 'run' }, USUAL_LIMITS, { basis, sections }, suppression);
          };
          const clock = () => clockMs;
          const service = new SectionService({ writer, reader, judge: { judge }, clock, changed: () => {} });
          const shown = async () => (await judge()).sections;

          for (const step of wanted) {
            printer = step.printer;
            const before = await shown();
            const ids = before.map(({ id }) => id);
            expect(new Set(ids).size).toBe(ids.length);
            const one = before[step.which % Math.max(1, before.length)];
            const others = before.filter((other) => other !== one);
            const own = { fromSpoolMm: step.fromSpoolMm, toSpoolMm: step.fromSpoolMm + step.lengthMm };
            if (step.what === 'mark' || one === undefined) {
              const { section } = await service.add(1, { ...own, verdict: step.verdict, note: '' }, 'Ann');
              expect((await shown()).filter(({ id }) => id !== section.id)).toEqual(before);
              continue;
            }
            const { statement, about } = (await judge()).targets.get(one.id)!;
            const isOfIt = (other: StatedSection) =>
              other.id === statement?.id || (about !== null && JSON.stringify(other.about) === JSON.stringify(about));
            const kept = stated().filter((other) => !isOfIt(other));
            if (step.what === 'remove') {
              await service.remove(1, one.id, 'Ann');
              expect(await shown()).toEqual(others);
              const restored = await service.restore(1, one.id, 'Ann');
              expect((await shown()).filter(({ id }) => id !== restored.section.id)).toEqual(others);
              await service.remove(1, restored.section.id, 'Ann');
              expect(await shown()).toEqual(others);
            } else {
              const edges = step.what === 'adjust' ? { fromSpoolMm: one.fromMm, toSpoolMm: one.toMm } : own;
              const text = { ...edges, verdict: step.verdict, note: 'seen' };
              const { section } = await service.adjust(1, one.id, text, 'Ann');
              expect(section).toMatchObject({
                kind: one.kind,
                fromMm: edges.fromSpoolMm,
                toMm: edges.toSpoolMm,
                verdict: step.verdict,
              });
              if (one.kind !== 'marked') expect(section.id).toBe(one.id);
              expect((await shown()).filter(({ id }) => id !== section.id)).toEqual(others);
            }
            expect(stated()).toEqual(expect.arrayContaining<StatedSection>(kept));
          }
        }),
        // A change by a single millimetre counts.
        { numRuns: tries(80), examples: [[[blob(1, 1, 2)], [blob(1, 13, 14)], [], [ONE_MM_ON], 0]] },
      ),
    );
  });
});

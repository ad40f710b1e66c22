import { describe, expect, it } from 'vitest';
import { createSimulation, SCENARIOS, scenarioNames } from '../../simulator/index.ts';
import { casesOf } from '../long-check.ts';
import { eventOf, lengthMmOf, readingsOf, standardDeviation, stepsOf } from './readings.ts';

const diametersOf = (text: string) => readingsOf(text).map((reading) => reading.d);

describe('the scenarios', () => {
  it('each have a title, a sentence and a script', () => {
    expect(scenarioNames).toContain('evening');
    for (const [name, scenario] of SCENARIOS) {
      expect(scenario.name).toBe(name);
      expect(name).toMatch(/^[a-z]+(-[a-z]+)*$/);
      expect(scenario.title.length).toBeGreaterThan(5);
      expect(scenario.description).toMatch(/^[A-Z][^.]+(\d\.\d+[^.]+)*\.$/);
      expect(scenario.script.length).toBeGreaterThan(0);
      if (scenario.durationS !== null)
        expect(Math.max(...scenario.script.map((s) => s.atS))).toBeLessThanOrEqual(scenario.durationS);
    }
  });

  it.each(casesOf([...SCENARIOS.values()], 3))(
    '$name has each event of its truth once, in order and within its bounds',
    (scenario) => {
      const settled: unknown[] = [];
      const simulation = createSimulation({ scenario, rateHz: 1, onTruth: (event) => settled.push(event) });
      simulation.advanceTo(Math.min(scenario.durationS ?? 600, 600));
      simulation.finish();
      simulation.finish();
      const truth = simulation.truth();
      expect(truth.length).toBeGreaterThan(0);
      expect(settled.length).toBe(truth.length);
      expect(settled).toEqual(expect.arrayContaining(truth));
      for (const event of truth) {
        if (event.toS !== null) expect(event.toS).toBeGreaterThanOrEqual(event.fromS);
        if (event.toGaugeMm !== null) expect(event.toGaugeMm).toBeGreaterThanOrEqual(event.fromGaugeMm);
        expect(event.toS === null).toBe(event.toGaugeMm === null);
        if (event.toSpoolMm !== null) expect(event.toSpoolMm).toBeGreaterThanOrEqual(event.fromSpoolMm ?? Number.NaN);
        expect(event.fromSpoolMm === null).toBe(event.spool === null);
      }
    },
  );

  it('damp-feed: many short blobs and a rough strand while the feed is damp', () => {
    const simulation = createSimulation({ scenario: 'damp-feed', seed: 2 });
    simulation.advanceTo(70);
    const dry = standardDeviation(diametersOf(simulation.advanceTo(130)));
    // The strand takes 17 s from the die to the gauge.
    simulation.advanceTo(150);
    const damp = diametersOf(simulation.advanceTo(300));
    expect(standardDeviation(damp)).toBeGreaterThan(1.8 * dry);
    expect(damp.some((d) => d > 1.9)).toBe(true);
    const blobs = simulation.truth().filter((event) => event.kind === 'blob');
    expect(blobs.length).toBeGreaterThan(60);
    expect(blobs.every((blob) => blob.toGaugeMm === null || blob.toGaugeMm - blob.fromGaugeMm < 8)).toBe(true);
    expect(eventOf(simulation.truth(), 'damp-feed').fromS).toBe(120);
  });

  it('bridging-feed: slow swings of 10–120 s that the loop cannot follow', () => {
    const simulation = createSimulation({ scenario: 'bridging-feed', seed: 2, rateHz: 10 });
    simulation.advanceTo(70);
    const even = standardDeviation(diametersOf(simulation.advanceTo(130)));
    simulation.advanceTo(150);
    const diametersMm = diametersOf(simulation.advanceTo(600));
    expect(standardDeviation(diametersMm)).toBeGreaterThan(2.5 * even);
    // Consecutive readings, 0.1 s apart, hardly differ.
    expect(standardDeviation(stepsOf(diametersMm))).toBeLessThan(standardDeviation(diametersMm) / 2);
    expect(eventOf(simulation.truth(), 'bridging').fromS).toBe(120);
  });

  it('contaminant: one hard blob with sharp ends in a good strand', () => {
    const simulation = createSimulation({ scenario: 'contaminant', seed: 2 });
    simulation.advanceTo(70);
    const diametersMm = diametersOf(simulation.advanceTo(300));
    const grain = eventOf(simulation.truth(), 'contaminant');
    expect(grain.peakMm).toBeGreaterThan(2.05);
    expect(lengthMmOf(grain)).toBeLessThan(10);
    const beyond = diametersMm.filter((d) => d > 1.9).length;
    expect(beyond).toBeGreaterThan(2);
    expect(beyond).toBeLessThan(20);
  });

  it('strand-break: no diameter while the puller turns, until the strand is threaded again', () => {
    const simulation = createSimulation({ scenario: 'strand-break', seed: 2 });
    const readings = readingsOf(simulation.advanceTo(400));
    const { fromS, toS } = eventOf(simulation.truth(), 'strand-break');
    const during = readings.filter((r) => r.ms > (fromS + 0.1) * 1000 && r.ms < ((toS ?? 0) - 0.1) * 1000);
    expect(during.length).toBeGreaterThan(1000);
    expect(Math.max(...during.map((reading) => reading.d))).toBeLessThan(0.05);
    expect(Math.min(...during.map((reading) => reading.v))).toBeGreaterThan(15);
    expect(readings.at(-1)?.d).toBeCloseTo(1.75, 1);
  });
});

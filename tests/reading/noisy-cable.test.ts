/** Readings over the simulator's noisy cable (flipped bits, lost bytes, garbage, lost line ends) against those sent. */
import { describe, expect, test } from 'vitest';
import { createSimulation, SCENARIOS, type Scenario } from '../../simulator/index.ts';
import { casesOf } from '../long-check.ts';
import { Bench } from './intake-bench.ts';

const UNTIL_S = 320;
const NOISY = SCENARIOS.get('noisy-cable');
if (NOISY === undefined) throw new Error('The simulator has no scenario “noisy-cable”.');
const CLEAN: Scenario = { ...NOISY, script: NOISY.script.filter((step) => step.do !== 'cable') };

interface Run {
  readonly bench: Bench;
  readonly damaged: number;
}

function run(scenario: Scenario, seed: number, shape: 'named' | 'json' | 'columns', checksum: boolean): Run {
  const simulation = createSimulation({ scenario, seed, shape, checksum });
  const bench = new Bench();
  if (simulation.header !== null) bench.text(simulation.header);
  while (simulation.timeS < UNTIL_S) bench.text(simulation.advanceTo(Math.min(UNTIL_S, simulation.timeS + 1)));
  return { bench, damaged: simulation.counts.damaged };
}

/** Number of readings of the noisy run whose values the board never sent. */
function neverSent(noisy: Run, clean: Run): number {
  const sent = new Set(clean.bench.readings.map((reading) => JSON.stringify(reading.values)));
  return noisy.bench.readings.filter((reading) => !sent.has(JSON.stringify(reading.values))).length;
}

describe.each(casesOf([1, 2], 1))('seed %d', (seed) => {
  test('with checksums, no false measurement is read, and no undamaged line is lost', () => {
    const clean = run(CLEAN, seed, 'named', true);
    const noisy = run(NOISY, seed, 'named', true);
    const { readings, restarts } = noisy.bench.intake.counters();
    expect(noisy.damaged).toBeGreaterThan(1000);
    expect(neverSent(noisy, clean)).toBe(0);
    // A lost line end damages the next line too.
    expect(clean.bench.readings.length - readings).toBeLessThan(1.4 * noisy.damaged);
    expect(restarts).toBe(0);
    expect(noisy.bench.intake.layout.signals).toEqual(clean.bench.intake.layout.signals);
  });

  test.each(casesOf(['named', 'json', 'columns'], 1))(
    'without checksums (%s), at most one damaged line in twenty is read, and none is a restart or a new signal',
    (shape) => {
      const clean = run(CLEAN, seed, shape, false);
      const noisy = run(NOISY, seed, shape, false);
      const { readings, restarts } = noisy.bench.intake.counters();
      expect(neverSent(noisy, clean)).toBeLessThan(0.05 * noisy.damaged);
      expect(clean.bench.readings.length - readings).toBeLessThan(1.4 * noisy.damaged);
      expect(restarts).toBe(0);
      expect(noisy.bench.intake.layout.signals).toEqual(clean.bench.intake.layout.signals);
    },
  );
});

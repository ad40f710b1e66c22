/** The simulator's noisy cable (flipped bits, lost bytes, garbage, lost line ends) against what the board really sent. */
import { describe, expect, test } from 'vitest';
import { createSimulation, SCENARIOS, type Scenario } from '../../simulator/index.ts';
import { Bench } from './take-in.ts';

const UNTIL_S = 320;
const NOISY = SCENARIOS.get('noisy-cable');
if (NOISY === undefined) throw new Error('the simulator has no noisy cable');
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

/** How many readings of the noisy run hold a set of values that the board never sent. */
function neverSent(noisy: Run, clean: Run): number {
  const sent = new Set(clean.bench.readings.map((reading) => JSON.stringify(reading.values)));
  return noisy.bench.readings.filter((reading) => !sent.has(JSON.stringify(reading.values))).length;
}

describe.each([1, 2])('seed %d', (seed) => {
  test('with checksums, no measurement comes out that was not sent, and no good line is lost', () => {
    const clean = run(CLEAN, seed, 'named', true);
    const noisy = run(NOISY, seed, 'named', true);
    const { readings, restarts } = noisy.bench.intake.counters();
    expect(noisy.damaged).toBeGreaterThan(1000);
    expect(neverSent(noisy, clean)).toBe(0);
    // A lost line end takes the next line along.
    expect(clean.bench.readings.length - readings).toBeLessThan(1.4 * noisy.damaged);
    expect(restarts).toBe(0);
    expect(noisy.bench.intake.layout!.channels).toEqual(clean.bench.intake.layout!.channels);
  });

  test.each(['named', 'json', 'columns'] as const)(
    'without checksums (%s), nineteen spoilt lines in twenty are kept out, and none shows as a restart or a new channel',
    (shape) => {
      const clean = run(CLEAN, seed, shape, false);
      const noisy = run(NOISY, seed, shape, false);
      const { readings, restarts } = noisy.bench.intake.counters();
      expect(neverSent(noisy, clean)).toBeLessThan(0.05 * noisy.damaged);
      expect(clean.bench.readings.length - readings).toBeLessThan(1.4 * noisy.damaged);
      expect(restarts).toBe(0);
      expect(noisy.bench.intake.layout!.channels).toEqual(clean.bench.intake.layout!.channels);
    },
  );
});

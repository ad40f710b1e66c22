import { describe, expect, it } from 'vitest';
import { createSimulation, SimulatorInputError, scenarioNames } from '../../simulator/index.ts';
import { stepsOf } from './readings.ts';

describe('a simulation', () => {
  it('has the same bytes for the same seed, however it is stepped', () => {
    const bySteps = createSimulation({ scenario: 'noisy-cable', seed: 5 });
    let stepped = '';
    while (bySteps.timeS < 110) stepped += bySteps.step();

    const byJumps = createSimulation({ scenario: 'noisy-cable', seed: 5 });
    let jumped = '';
    for (const timeS of [0.005, 3.123, 3.2, 90.001, 91.7, 109.99, 110]) jumped += byJumps.advanceTo(timeS);

    expect(stepped.length).toBeGreaterThan(400_000);
    expect(jumped).toBe(stepped);
    expect(byJumps.truth()).toEqual(bySteps.truth());
  });

  it('has other bytes for another seed', () => {
    const texts = [1, 2, 3].map((seed) => createSimulation({ scenario: 'steady', seed }).advanceTo(40));
    expect(new Set(texts).size).toBe(3);
  });

  it('has the same strand at any rate and in any shape of the lines', () => {
    const [truth = [], ...others] = [
      { rateHz: 50, shape: 'named' },
      { rateHz: 7, shape: 'json' },
      { rateHz: 200, shape: 'columns' },
    ].map((options) => {
      const simulation = createSimulation({ scenario: 'blobs-and-necks', seed: 2, ...options } as never);
      simulation.advanceTo(150);
      return simulation.truth().filter((event) => event.toS !== null && event.toS < 149);
    });
    expect(truth.length).toBeGreaterThan(4);
    expect(others).toEqual([truth, truth]);
  });

  it('sends lines at its rate, evenly spaced by the device clock', () => {
    for (const rateHz of [1, 10, 30, 50, 200]) {
      const text = createSimulation({ scenario: 'steady', rateHz, checksum: false }).advanceTo(20);
      const ms = [...text.matchAll(/^ms=(\d+)/gm)].map((match) => Number(match[1]));
      expect(ms.length).toBe(20 * rateHz);
      // Sample times are whole steps of 5 ms.
      for (const stepMs of stepsOf(ms)) expect(Math.abs(stepMs - 1000 / rateHz)).toBeLessThanOrEqual(5);
    }
  });

  it('reports what is wrong with an option and what to do', () => {
    const create = (options: object) => () => createSimulation({ scenario: 'steady', ...options } as never);
    expect(create({ scenario: 'stedy' })).toThrow(SimulatorInputError);
    expect(create({ scenario: 'stedy' })).toThrow(
      `Unknown scenario “stedy”. Choose one of ${scenarioNames.join(', ')}.`,
    );
    expect(create({ seed: 1.5 })).toThrow('The seed cannot be 1.5. Choose a whole number of at least 0.');
    expect(create({ rateHz: 0 })).toThrow('The rate cannot be 0. Choose a number from 0.1 to 200 lines per second.');
    expect(create({ rateHz: Number.NaN })).toThrow('The rate cannot be NaN.');
    expect(create({ shape: 'xml' })).toThrow('Unknown shape “xml”. Choose one of named, json, columns.');
    expect(create({ axes: 3 })).toThrow('Unknown axes “3”. Choose one of 1, 2.');
    expect(create({ fields: ['ms', 'q'] })).toThrow('Unknown field “q”');
    expect(create({ fields: [] })).toThrow('has no fields. Choose at least one');
    expect(create({ gaugeToWinderMm: -1 })).toThrow('gauge-to-winder path cannot be -1.');
  });
});

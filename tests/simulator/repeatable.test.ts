import { describe, expect, it } from 'vitest';
import { createSimulation, SimulatorInputError, scenarioNames } from '../../simulator/index.ts';

describe('a simulation repeats itself', () => {
  it('gives the same bytes for the same seed, however it is stepped', () => {
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

  it('gives other bytes for another seed', () => {
    const texts = [1, 2, 3].map((seed) => createSimulation({ scenario: 'steady', seed }).advanceTo(40));
    expect(new Set(texts).size).toBe(3);
  });

  it('makes the same strand whatever the rate and the shape of the lines', () => {
    const truths = [
      { rateHz: 50, shape: 'named' },
      { rateHz: 7, shape: 'json' },
      { rateHz: 200, shape: 'columns' },
    ].map((options) => {
      const simulation = createSimulation({ scenario: 'blobs-and-necks', seed: 2, ...options } as never);
      simulation.advanceTo(150);
      return simulation.truth().filter((event) => event.toS !== null && event.toS < 149);
    });
    expect(truths[0]!.length).toBeGreaterThan(4);
    expect(truths[1]).toEqual(truths[0]);
    expect(truths[2]).toEqual(truths[0]);
  });

  it('sends as many lines as the rate says, spaced evenly on the device clock', () => {
    for (const rateHz of [1, 10, 30, 50, 200]) {
      const text = createSimulation({ scenario: 'steady', rateHz, checksum: false }).advanceTo(20);
      const ms = [...text.matchAll(/^ms=(\d+)/gm)].map((match) => Number(match[1]));
      expect(ms.length).toBe(20 * rateHz);
      for (let i = 1; i < ms.length; i++) {
        // Sample times are whole steps of 5 ms.
        expect(Math.abs(ms[i]! - ms[i - 1]! - 1000 / rateHz)).toBeLessThanOrEqual(5);
      }
    }
  });

  it('names what is wrong with an option, and what would do', () => {
    const create = (options: object) => () => createSimulation({ scenario: 'steady', ...options } as never);
    expect(create({ scenario: 'stedy' })).toThrow(SimulatorInputError);
    expect(create({ scenario: 'stedy' })).toThrow(`Unknown scenario "stedy"; known are ${scenarioNames.join(', ')}.`);
    expect(create({ seed: 1.5 })).toThrow('The seed is 1.5; give a whole number from 0 on.');
    expect(create({ rateHz: 0 })).toThrow('The rate is 0; give a number from 0.1 to 200 lines a second.');
    expect(create({ rateHz: Number.NaN })).toThrow('The rate is NaN');
    expect(create({ shape: 'xml' })).toThrow('Unknown shape "xml"; known are named, json, columns.');
    expect(create({ axes: 3 })).toThrow('Unknown axes "3"; known are 1, 2.');
    expect(create({ fields: ['ms', 'q'] })).toThrow('Unknown field "q"');
    expect(create({ fields: [] })).toThrow('at least one field');
    expect(create({ gaugeToWinderMm: -1 })).toThrow('gauge-to-winder path is -1');
  });
});

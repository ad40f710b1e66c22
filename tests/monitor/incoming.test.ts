import { describe, expect, it } from 'vitest';
import { incoming } from '../../server/monitor/incoming.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { Bench, START_MS } from '../reading/intake-bench.ts';

/** What is known of a board that prints a diameter and a temperature, with these settings. */
function seenWith(settings: Partial<LineSettings>) {
  const bench = new Bench();
  for (let i = 0; i < 60; i++)
    bench.text(
      `dia:${(1.75 + 0.01 * Math.sin(i)).toFixed(3)} temp:${(200 + Math.sin(i)).toFixed(1)}\n`,
      START_MS + i * 100,
    );
  const contents = {
    shape: bench.intake.shape,
    readingsPerS: 10,
    lastLine: '',
    fields: bench.intake.seenFields(),
    dropped: [],
    isNoText: false,
    lacksLineEnds: false,
    baud: null,
  };
  return incoming(contents, { ...defaultLineSettings(), ...settings });
}

const DIA = { name: 'dia', role: 'd', factor: 1, offset: 0 };

describe('what the line sends', () => {
  it('gets no proposal for a field that is not to be used', () => {
    expect(seenWith({}).proposed.map(({ name }) => name)).toEqual(['dia', 'temp']);
    expect(seenWith({ unusedFields: ['temp'] }).proposed.map(({ name }) => name)).toEqual(['dia']);
  });

  it('asks for pins until the gauge was calibrated, even if they have found exactly 1 and 0', () => {
    expect(seenWith({ roles: [DIA] }).missing).toContain('pins');
    expect(seenWith({ roles: [{ ...DIA, calibrated: true }] }).missing).not.toContain('pins');
    expect(seenWith({ roles: [{ ...DIA, factor: 1.01 }] }).missing).not.toContain('pins');
  });
});

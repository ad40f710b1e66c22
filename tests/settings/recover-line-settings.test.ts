import { describe, expect, it } from 'vitest';
import {
  defaultLineSettings,
  recoverLineSettings,
  recoverSavedSettings,
  resetText,
} from '../../server/settings/check-line-settings.ts';

/** Right only together: each alone contradicts a default for 1.75 mm. */
const FOR_2_85 = { nominalMm: 2.85, hotendLimitMm: 3, smallestFeedableMm: 2.6 };

it('keeps saved settings that are right only together, without one that is wrong', () => {
  const { settings, problems, reset } = recoverLineSettings({ ...FOR_2_85, lineName: 7, nothing: 1 });
  expect(reset).toEqual(['lineName']);
  expect(settings).toEqual({ ...defaultLineSettings(), ...FOR_2_85 });
  expect(problems).toEqual([
    'The saved setting “nothing” was ignored. There is no such setting.',
    'The saved setting “lineName” was ignored. The setting “lineName” must be a text.',
  ]);
});

it('drops whichever of two settings contradicts the other, and starts', () => {
  const { settings, problems } = recoverLineSettings({ hotendLimitMm: 1.5, lineName: 'Loft' });
  expect(settings).toEqual({ ...defaultLineSettings(), lineName: 'Loft' });
  expect(problems).toHaveLength(1);
});

it('starts with all defaults if what was saved holds no settings', () => {
  expect(recoverLineSettings('text')).toMatchObject({
    settings: defaultLineSettings(),
    problems: [expect.any(String)],
  });
  expect(recoverLineSettings(null)).toEqual({ settings: defaultLineSettings(), problems: [], reset: [] });
});

it('drops a tolerance that leaves a band of no width', () => {
  const { settings, problems } = recoverLineSettings({ toleranceMm: 5e-324, lineName: 'Loft' });
  expect(settings).toEqual({ ...defaultLineSettings(), lineName: 'Loft' });
  expect(problems).toHaveLength(1);
});

it.each([
  ['pointedAt', '[[', ']]'],
  ['gears', '[[', ']]'],
  ['lineName', '{"a":{"a":', '}}'],
])('drops %s nested in 100,000 levels, and starts', (name, open, close) => {
  const deep: unknown = JSON.parse(open.repeat(50_000) + 1 + close.repeat(50_000));
  const { settings, problems, reset } = recoverLineSettings({ ...FOR_2_85, [name]: deep });
  expect(reset).toEqual([name]);
  expect(settings).toEqual({ ...defaultLineSettings(), ...FOR_2_85 });
  expect(problems).toEqual([`The saved setting “${name}” was ignored. The setting “${name}” is nested too deeply.`]);
});

it('says which settings have their defaults', () => {
  expect(resetText([])).toBeNull();
  expect(resetText(recoverLineSettings('text').reset)).toBe(
    'The saved settings of the line could not be read. All have their defaults.',
  );
  expect(resetText(['hotendLimitMm'])).toBe(
    'A saved setting of the line could not be read. It has its default: Hotend limit, mm.',
  );
  expect(resetText(['nominalMm', 'toleranceMm'])).toMatch(
    /^Saved settings .+ defaults: Nominal diameter, mm; Tolerance, ± mm\.$/,
  );
});

it('ignores thousands of names that are no settings at once, and names a few', () => {
  const names = Array.from({ length: 20_000 }, (_, i) => [`x${i}`, 'b']);
  const { settings, problems, reset } = recoverLineSettings({ ...Object.fromEntries(names), lineName: 'Loft' });
  expect(settings).toEqual({ ...defaultLineSettings(), lineName: 'Loft' });
  expect(problems).toEqual([
    'The saved settings “x0”, “x1”, “x2”, “x3”, “x4” and 19995 more were ignored. There are no such settings.',
  ]);
  expect(reset).toEqual([]);
});

describe('settings as saved', () => {
  const NEWER_LOST = {
    settings: { ...defaultLineSettings(), source: 'tcp:192.0.2.7:2000' },
    olderMs: Date.UTC(2026, 10, 5, 12),
  };
  const WHOLE = { ...NEWER_LOST, olderMs: null };
  const lost = (settings: unknown, watchedReal: boolean) =>
    recoverSavedSettings({ settings, olderMs: null }, 'Europe/Vienna', () =>
      watchedReal ? 'TCP 192.0.2.7:2000' : null,
    );

  it('say of when they are, and their source, if later ones cannot be read', () => {
    const { notice, problems, settings } = recoverSavedSettings(NEWER_LOST, 'Europe/Vienna', () => null);
    expect(settings.source).toBe('tcp:192.0.2.7:2000');
    expect(notice).toBe(
      'The settings of the line saved last could not be read. Those saved on 5 Nov 2026, 13:00 are used, with the source tcp:192.0.2.7:2000.',
    );
    expect(problems).toStrictEqual([notice]);
    expect(recoverSavedSettings(WHOLE, 'UTC', () => null).notice).toBeNull();
  });

  it.each(['', { ...defaultLineSettings(), source: 7 }, { lineName: 'Loft' }])(
    'choose no source instead of the simulator if that of a real line is lost: %j',
    (settings) => {
      const real = lost(settings, true);
      expect([real.settings.source, real.reset.includes('source')]).toStrictEqual(['none', false]);
      expect(real.notice).toMatch(/the line is not watched\. .+ watched through: TCP 192\.0\.2\.7:2000\.$/);
      expect(lost(settings, false)).toMatchObject({ settings: { source: '' }, notice: null });
    },
  );

  it('choose the simulator in a new installation', () => {
    expect(lost(null, false)).toMatchObject({ settings: { source: '' }, notice: null, reset: [] });
  });

  it.each([null, defaultLineSettings()])(
    'choose no source once a real line has been watched, as its address may only have been on the command line: %#',
    (settings) => {
      const real = lost(settings, true);
      expect(real).toMatchObject({ settings: { source: 'none' }, reset: [] });
      expect(real.notice).toMatch(/^No source has been chosen, .+ watched through: TCP 192\.0\.2\.7:2000\.$/);
    },
  );

  it.each(['simulator:', 'simulator:evening'])('keep the simulator if it was chosen by name: %s', (source) => {
    const settings = { ...defaultLineSettings(), source };
    expect(lost(settings, true)).toMatchObject({ settings, notice: null });
  });

  it('do not say that a lost source has its default', () => {
    expect(resetText(lost('', true).reset)).toBe(
      'The saved settings of the line could not be read. All others have their defaults.',
    );
  });
});

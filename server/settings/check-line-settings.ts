import { Compile } from 'typebox/compile';
import { Value } from 'typebox/value';
import { pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { isRole } from '../reading/names.ts';
import { LineSettings } from './line-settings.ts';

const validator = Compile(LineSettings);

/** The settings that a new installation starts with. */
export function defaultLineSettings(): LineSettings {
  const settings = Value.Create(LineSettings) as LineSettings;
  return {
    ...settings,
    zoneNames: [...settings.zoneNames],
    columnNames: [],
    roles: [],
    gears: [],
  };
}

/**
 * Check settings that somebody gave; what is missing is taken from `base`.
 * @throws Problem `bad-setting` that names the setting and what it must be
 */
export function checkLineSettings(given: unknown, base: LineSettings): LineSettings {
  if (typeof given !== 'object' || given === null || Array.isArray(given)) {
    throw new Problem('bad-setting', 'The settings are not an object of names and values.', 'Send a JSON object.');
  }
  const settings: unknown = { ...base, ...given };
  if (!validator.Check(settings)) {
    const first = [...validator.Errors(settings)][0];
    throw wrong(first?.instancePath ?? '', first?.message ?? 'is not valid', first?.params);
  }
  const s = settings as LineSettings;
  const outOfOrder = [
    { holds: s.strandPresentMm < s.leastFeedableMm, between: ['leastFeedableMm', 'strandPresentMm'] as const },
    {
      holds: s.leastFeedableMm < s.nominalMm - s.toleranceMm,
      between: ['leastFeedableMm', 'toleranceMm', 'nominalMm'] as const,
    },
    {
      holds: s.nominalMm + s.toleranceMm < s.hotendLimitMm,
      between: ['hotendLimitMm', 'toleranceMm', 'nominalMm'] as const,
    },
  ].find(({ holds }) => !holds);
  if (outOfOrder !== undefined) {
    throw new Problem(
      'bad-setting',
      `The diameters are in the wrong order: no strand below ${s.strandPresentMm}, smallest feedable ${s.leastFeedableMm}, tolerance band ${(s.nominalMm - s.toleranceMm).toFixed(3)} to ${(s.nominalMm + s.toleranceMm).toFixed(3)}, hotend limit ${s.hotendLimitMm} mm.`,
      'Each must be larger than the one before it.',
      { pointer: changedOf(outOfOrder.between, s, base) },
    );
  }
  if (s.spoolFlangeMm <= s.spoolCoreMm || s.windingPitchMm > s.spoolWidthMm) {
    const across = s.spoolFlangeMm <= s.spoolCoreMm;
    throw new Problem(
      'bad-setting',
      `A spool with a core of ${s.spoolCoreMm}, flanges of ${s.spoolFlangeMm}, ${s.spoolWidthMm} mm wide and wound at a pitch of ${s.windingPitchMm} mm holds nothing.`,
      'The flanges must be larger than the core, and the pitch smaller than the width.',
      {
        pointer: across
          ? changedOf(['spoolFlangeMm', 'spoolCoreMm'], s, base)
          : changedOf(['windingPitchMm', 'spoolWidthMm'], s, base),
      },
    );
  }
  for (const [i, mapping] of s.roles.entries()) {
    if (!isRole(mapping.role)) {
      throw new Problem(
        'bad-setting',
        `“${mapping.name}” is mapped to “${mapping.role}”, but there is no such signal.`,
        'Use a name of the reading-line contract, such as d, dx, t1, s1, p1, v or len.',
        { pointer: pointerTo('roles', i, 'role') },
      );
    }
    if (mapping.factor === 0) {
      throw new Problem(
        'bad-setting',
        `The factor for “${mapping.name}” is 0: every value would be the same.`,
        'Give the factor that turns the raw value into the unit of its role.',
        { pointer: pointerTo('roles', i, 'factor') },
      );
    }
  }
  return s;
}

/** Which of the settings that do not fit together is to be looked at: the one that was changed, else the first. */
function changedOf(names: readonly (keyof LineSettings)[], settings: LineSettings, base: LineSettings): string {
  return pointerTo(names.find((name) => settings[name] !== base[name]) ?? names[0]!);
}

function wrong(path: string, message: string, params: unknown): Problem {
  const name = path.replace(/^\//, '').replaceAll('/', ' › ');
  if (message === 'schema is false') {
    return new Problem(
      'bad-setting',
      `There is no setting “${name}”.`,
      'The set-up page shows those there are, and so does “schema” in GET /api/settings.',
      { pointer: path },
    );
  }
  const missing = (params as { requiredProperties?: string[] } | undefined)?.requiredProperties;
  const what = missing === undefined ? message : `lacks ${missing.join(' and ')}`;
  const pointer = missing === undefined ? path : path + pointerTo(missing[0]!);
  return new Problem('bad-setting', `The setting “${name}” ${what}.`, 'Correct it and save again.', { pointer });
}

/**
 * Settings as an earlier start saved them, perhaps by another version of the program: what is not known or not valid any
 * more gives way to its default, so that the service and its set-up page start in any case.
 */
export function recoverLineSettings(saved: unknown): { readonly settings: LineSettings; readonly problems: string[] } {
  const defaults = defaultLineSettings();
  if (saved === null || saved === undefined) return { settings: defaults, problems: [] };
  try {
    return { settings: checkLineSettings(saved, defaults), problems: [] };
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
    const problems = [thrown.message];
    let settings = defaults;
    for (const [name, value] of typeof saved === 'object' ? Object.entries(saved) : []) {
      try {
        settings = checkLineSettings({ [name]: value }, settings);
      } catch (refused) {
        if (!(refused instanceof Problem)) throw refused;
        problems.push(`${name} has its default again: ${refused.message}`);
      }
    }
    return { settings, problems };
  }
}

import { Compile } from 'typebox/compile';
import { Value } from 'typebox/value';
import { nestsDeeper } from '../problem/nesting.ts';
import { namesIn, pointerTo } from '../problem/pointer.ts';
import { Problem } from '../problem/problem.ts';
import { boundText, counted, TYPE_TEXT } from '../problem/sentence.ts';
import { isRole, type Role } from '../reading/names.ts';
import { quantityOf, unitFor, unitsOf } from '../reading/units.ts';
import { LineSettings, NO_SOURCE } from './line-settings.ts';

const validator = Compile(LineSettings);
/** A list of objects. */
const SETTING_LEVELS = 2;

/** Settings of a new installation. */
export function defaultLineSettings(): LineSettings {
  const settings = Value.Create(LineSettings) as LineSettings;
  return {
    ...settings,
    zoneNames: [...settings.zoneNames],
    setpointsC: [],
    columnNames: [],
    pointedAt: [],
    unusedFields: [],
    roles: [],
    gears: [],
  };
}

/**
 * Checks entered settings; missing ones are taken from `base`.
 * @throws Problem `bad-setting`, which points to the setting
 */
export function checkLineSettings(input: unknown, base: LineSettings): LineSettings {
  if (typeof input !== 'object' || input === null || Array.isArray(input)) {
    throw new Problem('bad-setting', 'The settings are not a JSON object.', 'Send an object of names and values.');
  }
  // First, because the validator would list every fault of an object with thousands of names.
  const stranger = Object.keys(input).find((name) => !isSetting(name));
  if (stranger !== undefined) throw noSetting(stranger, pointerTo(stranger));
  const settings: object = { ...base, ...input };
  const [refused] = refusedBySchema(settings);
  if (refused !== undefined) throw refused;
  const s = settings as LineSettings;
  const outOfOrder = [
    { holds: s.strandPresentMm < s.smallestFeedableMm, between: ['smallestFeedableMm', 'strandPresentMm'] as const },
    {
      holds: s.smallestFeedableMm < s.nominalMm - s.toleranceMm,
      between: ['smallestFeedableMm', 'toleranceMm', 'nominalMm'] as const,
    },
    {
      holds: s.nominalMm + s.toleranceMm < s.hotendLimitMm,
      between: ['hotendLimitMm', 'toleranceMm', 'nominalMm'] as const,
    },
  ].find(({ holds }) => !holds);
  if (outOfOrder !== undefined) {
    throw new Problem(
      'bad-setting',
      `The diameters are in the wrong order: no strand below ${s.strandPresentMm}, smallest feedable ${s.smallestFeedableMm}, tolerance ${(s.nominalMm - s.toleranceMm).toFixed(3)} to ${(s.nominalMm + s.toleranceMm).toFixed(3)}, hotend limit ${s.hotendLimitMm} mm.`,
      'Make each value larger than the one before it.',
      { pointer: changedOf(outOfOrder.between, s, base) },
    );
  }
  if (s.spoolFlangeMm <= s.spoolCoreMm || s.windingPitchMm > s.spoolWidthMm) {
    const across = s.spoolFlangeMm <= s.spoolCoreMm;
    throw new Problem(
      'bad-setting',
      `No strand fits on a spool with a core of ${s.spoolCoreMm} mm, flanges of ${s.spoolFlangeMm} mm, a width of ${s.spoolWidthMm} mm and a pitch of ${s.windingPitchMm} mm.`,
      'Make the flanges larger than the core, and the pitch smaller than the width.',
      {
        pointer: across
          ? changedOf(['spoolFlangeMm', 'spoolCoreMm'], s, base)
          : changedOf(['windingPitchMm', 'spoolWidthMm'], s, base),
      },
    );
  }
  checkRoles(s.roles);
  return s;
}

/** The first fault of each setting that the schema refuses. */
function refusedBySchema(settings: object): readonly Problem[] {
  // First, because comparing the entries of a list is recursive.
  const deep = Object.entries(settings).filter(([, value]) => nestsDeeper(value, SETTING_LEVELS));
  if (deep.length > 0) return deep.map(([name]) => wrong(pointerTo(name), 'is nested too deeply', {}));
  if (validator.Check(settings)) return [];
  const problems = new Map<string | undefined, Problem>();
  const errors = validator.Errors(settings);
  for (const error of errors.length > 0 ? errors : [{}]) {
    const {
      instancePath = '',
      keyword = '',
      params = {},
      message = 'is not valid',
    } = error as Partial<(typeof errors)[0]>;
    const problem = wrong(instancePath, faultText(keyword, params) ?? message, params);
    const [name] = namesIn(problem.pointer ?? '');
    if (!problems.has(name)) problems.set(name, problem);
  }
  return [...problems.values()];
}

/** What the value must be, in words; null = none are needed here. */
function faultText(keyword: string, params: object): string | null {
  const {
    limit = 0,
    type,
    allowedValues,
  } = params as {
    readonly limit?: number;
    readonly type?: string | readonly string[];
    readonly allowedValues?: readonly unknown[];
  };
  switch (keyword) {
    case 'pattern':
      return 'has characters that it can’t have';
    case 'type':
      return `must be ${[type]
        .flat()
        .map((one) => TYPE_TEXT[one ?? ''] ?? one)
        .join(' or ')}`;
    case 'enum':
      return allowedValues === undefined ? null : `must be one of ${allowedValues.join(', ')}`;
    case 'minLength':
      return `must have at least ${counted(limit, 'character')}`;
    case 'maxLength':
      return `can have at most ${counted(limit, 'character')}`;
    case 'maxItems':
      return `can have at most ${counted(limit, 'entry', 'entries')}`;
    case 'uniqueItems':
      return 'has an entry twice';
    default: {
      const bound = boundText(keyword, limit);
      return bound === null ? null : `must be ${bound}`;
    }
  }
}

/** @throws Problem `bad-setting`: a mapping that is invalid, or contradicts another */
function checkRoles(roles: LineSettings['roles']): void {
  for (const [i, mapping] of roles.entries()) {
    const { name, role, unit } = mapping;
    const before = roles.slice(0, i);
    if (before.some((other) => other.name === name)) {
      throw new Problem('bad-setting', `“${name}” is mapped twice.`, 'Map each name to one signal only.', {
        pointer: pointerTo('roles', i, 'name'),
      });
    }
    const same = before.find((other) => other.role === role);
    if (same !== undefined) {
      throw new Problem(
        'bad-setting',
        `“${same.name}” and “${name}” are both mapped to ${role}.`,
        'Choose another signal for one of them. If they are the two axes of one gauge, use dx and dy.',
        { pointer: pointerTo('roles', i, 'role') },
      );
    }
    if (isRole(role) && unit !== undefined && unitFor(role, unit) === null) {
      const units = unitsOfRole(role);
      throw new Problem(
        'bad-setting',
        `“${name}” is mapped to ${role}, which cannot be in “${unit}”.`,
        units.length === 0 ? 'Leave the unit out.' : `Choose one of these units: ${units.join(', ')}.`,
        { pointer: pointerTo('roles', i, 'unit') },
      );
    }
    if (!isRole(mapping.role)) {
      throw new Problem(
        'bad-setting',
        `“${mapping.name}” is mapped to “${mapping.role}”, which is not a known signal.`,
        'Choose a signal such as d, dx, t1, s1, p1, v or len.',
        { pointer: pointerTo('roles', i, 'role') },
      );
    }
    if (mapping.factor === 0) {
      throw new Problem(
        'bad-setting',
        `The factor for “${mapping.name}” is 0, so every value would be the same.`,
        'Enter the factor that converts the raw value into the unit of its signal.',
        { pointer: pointerTo('roles', i, 'factor') },
      );
    }
  }
}

/** Of several settings that contradict each other: pointer to the first that was changed, or else to the first. */
function changedOf(
  names: readonly [keyof LineSettings, ...(keyof LineSettings)[]],
  settings: LineSettings,
  base: LineSettings,
): string {
  return pointerTo(names.find((name) => settings[name] !== base[name]) ?? names[0]);
}

function isSetting(name: string): boolean {
  return Object.hasOwn(LineSettings.properties, name);
}

function noSetting(name: string, pointer: string): Problem {
  return new Problem(
    'bad-setting',
    `There is no setting “${name.slice(0, 100)}”.`,
    'See the Set-up page, or “schema” in GET /api/settings, for the settings that exist.',
    { pointer },
  );
}

function wrong(path: string, message: string, params: unknown): Problem {
  const name = path.replace(/^\//, '').replaceAll('/', ' › ');
  if (message === 'schema is false') return noSetting(name, path);
  const missing = (params as { requiredProperties?: string[] } | undefined)?.requiredProperties ?? [];
  const [first] = missing;
  const what = first === undefined ? message : `has no ${missing.join(' and no ')}`;
  const pointer = first === undefined ? path : path + pointerTo(first);
  return new Problem('bad-setting', `The setting “${name}” ${what}.`, 'Correct it and save again.', { pointer });
}

export interface SavedSettings {
  /** As a plain object; null = never saved; no object = no version can be read. */
  readonly settings: unknown;
  /** When they were saved, UTC ms, if no later version can be read; null = they are the newest. */
  readonly olderMs: number | null;
}

export interface RecoveredSettings {
  readonly settings: LineSettings;
  /** A sentence for each saved setting that could not be used. */
  readonly problems: readonly string[];
  /** Settings that have their defaults for that reason. */
  readonly reset: readonly (keyof LineSettings)[];
  /** Sentences for pages: settings of an earlier version are used, or no source; null = neither. */
  readonly notice: string | null;
}

/**
 * The settings of the line as saved. Where a real line was ever watched, no source is used instead of the simulator unless that
 * was chosen by its name: a simulated line would look as if all were well.
 * @param lastRealSource title of the source of the last run of a real line; null = there was none, or the source is given otherwise
 */
export function recoverSavedSettings(
  { settings: saved, olderMs }: SavedSettings,
  timeZone: string,
  lastRealSource: () => string | null,
): RecoveredSettings {
  const recovered = recoverLineSettings(saved);
  const stated = typeof saved === 'object' && saved !== null && 'source' in saved;
  const isLost = saved !== null && (!stated || recovered.reset.includes('source'));
  const lastReal = recovered.settings.source === '' ? lastRealSource() : null;
  const settings = lastReal === null ? recovered.settings : { ...recovered.settings, source: NO_SOURCE };
  const notices = [
    ...(olderMs === null ? [] : [olderText(olderMs, timeZone, settings.source)]),
    ...(lastReal === null ? [] : [noSourceText(isLost, lastReal)]),
  ];
  return {
    settings,
    problems: [...notices, ...recovered.problems],
    reset: lastReal === null ? recovered.reset : recovered.reset.filter((name) => name !== 'source'),
    notice: notices.length === 0 ? null : notices.join(' '),
  };
}

function noSourceText(isLost: boolean, lastReal: string): string {
  const why = isLost ? 'The saved source of the line could not be read' : 'No source has been chosen';
  return `${why}, so the line is not watched. Choose the source on the Set-up page. The last run was watched through: ${lastReal}.`;
}

function olderText(savedMs: number, timeZone: string, source: string): string {
  const saved = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short', timeZone }).format(savedMs);
  const from = source === NO_SOURCE ? '' : `, with the source ${source === '' ? 'simulator' : source}`;
  return `The settings of the line saved last could not be read. Those saved on ${saved} are used${from}.`;
}

/**
 * Saved settings, perhaps from another version of the program. Each one that is refused is left out, so that the service and
 * its set-up page always start; the others are kept together, since some are right only together.
 */
export function recoverLineSettings(saved: unknown): Omit<RecoveredSettings, 'notice'> {
  const defaults = defaultLineSettings();
  const known = Object.keys(defaults) as (keyof LineSettings)[];
  if (saved === null || saved === undefined) return { settings: defaults, problems: [], reset: [] };
  if (typeof saved !== 'object') {
    const problem =
      'The saved settings of the line cannot be read. All have been reset to their defaults. Enter them again.';
    return { settings: defaults, problems: [problem], reset: known };
  }
  const problems: string[] = [];
  const kept = new Map(Object.entries(saved));
  // All at once: checking again for each of thousands of names would take minutes.
  const strangers = [...kept.keys()].filter((name) => !isSetting(name));
  for (const name of strangers) kept.delete(name);
  if (strangers.length > 0) problems.push(strangersText(strangers));
  const ignored = new Set<string>();
  const ignore = (refused: Problem) => {
    const [name] = namesIn(refused.pointer ?? '');
    if (name === undefined || !kept.delete(name)) throw refused;
    ignored.add(name);
    problems.push(`The saved setting “${name}” was ignored. ${refused.message}`);
  };
  // Finding all faults takes no longer than finding the first.
  for (const refused of refusedBySchema({ ...defaults, ...Object.fromEntries(kept) })) ignore(refused);
  for (;;) {
    try {
      const settings = checkLineSettings(Object.fromEntries(kept), defaults);
      return { settings, problems, reset: known.filter((name) => ignored.has(name)) };
    } catch (refused) {
      if (!(refused instanceof Problem)) throw refused;
      ignore(refused);
    }
  }
}

const STRANGERS_NAMED = 5;

function strangersText(names: readonly string[]): string {
  const named = names.slice(0, STRANGERS_NAMED).map((name) => `“${name.slice(0, 40)}”`);
  const more = names.length > named.length ? ` and ${names.length - named.length} more` : '';
  return names.length === 1
    ? `The saved setting ${named[0]} was ignored. There is no such setting.`
    : `The saved settings ${named.join(', ')}${more} were ignored. There are no such settings.`;
}

/** Which settings have their defaults because what was saved could not be used, as a sentence; null = none. */
export function resetText(reset: readonly (keyof LineSettings)[]): string | null {
  if (reset.length === 0) return null;
  const others = Object.keys(LineSettings.properties).filter((name) => !(reset as readonly string[]).includes(name));
  if (others.every((name) => name === 'source')) {
    const all = others.length === 0 ? 'All' : 'All others';
    return `The saved settings of the line could not be read. ${all} have their defaults.`;
  }
  const titles = reset.map((name) => (LineSettings.properties[name] as { title?: string }).title ?? name);
  const [them, have] =
    reset.length === 1 ? ['A saved setting', 'It has its default'] : ['Saved settings', 'They have their defaults'];
  return `${them} of the line could not be read. ${have}: ${titles.join('; ')}.`;
}

function unitsOfRole(role: Role): readonly string[] {
  const quantity = quantityOf(role);
  return quantity === null ? [] : unitsOf(quantity).map(({ code }) => code);
}

import { describe, expect, it } from 'vitest';
import type { IncomingView } from '../../server/api/contract/incoming.ts';
import type { Role } from '../../server/reading/names.ts';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { progressOf } from '../../web/set-up/missing-steps.ts';
import {
  type Choices,
  chosenMeaning,
  inUnit,
  isBehind,
  isImpossible,
  type Mapping,
  mappingOf,
  roleValue,
  scaleOfOthers,
  signalFault,
  signalRows,
  takenBy,
  unsaved,
  unusedOf,
} from '../../web/set-up/signal-rows.ts';
import { NO_VALUES, setpointsAtHeat, settingsWith, unsentOf } from '../../web/set-up/unsent-values.ts';

type Field = IncomingView['fields'][number];
type Proposed = IncomingView['proposed'][number];

const field = (name: string, last: number, more: Partial<Field> = {}): Field => ({
  name,
  unit: '',
  last,
  lowest: last,
  highest: last,
  role: null,
  mapping: null,
  ...more,
});
const proposal = (name: string, role: Role, unit: string, more: Partial<Proposed> = {}): Proposed => ({
  name,
  role,
  unit,
  factor: 1,
  sure: true,
  needsPins: false,
  ...more,
});
const mapping = (name: string, role: Role, unit: string, factor = 1, offset = 0): Mapping => ({
  name,
  role,
  factor,
  offset,
  unit,
});

const NOMINAL_MM = 1.75;
const rowsOf = (seen: Parameters<typeof signalRows>[0], saved: readonly Mapping[], choices: Choices) =>
  signalRows(seen, saved, choices, NOMINAL_MM);
const faultOf = (rows: ReturnType<typeof rowsOf>) => signalFault(rows, NOMINAL_MM);

const BOARD = {
  fields: [field('D', 1763), field('TempA', 364), field('adc', 782), field('x', 5)],
  proposed: [
    proposal('D', 'd', 'um'),
    proposal('TempA', 't1', 'F', { sure: false }),
    proposal('adc', 'dx', 'mm', { sure: false, needsPins: true }),
  ],
};

describe('signals of a line', () => {
  it('are accepted as proposed, each in its unit; a raw count waits for its pins', () => {
    const rows = rowsOf(BOARD, [], {});
    expect(rows.map(({ name, from, role, isSure }) => [name, from, role, isSure])).toEqual([
      ['D', 'proposal', 'd', true],
      ['TempA', 'proposal', 't1', false],
      ['adc', 'proposal', 'dx', false],
      ['x', 'nothing', null, true],
    ]);
    expect(mappingOf(rows)).toEqual([mapping('D', 'd', 'um'), mapping('TempA', 't1', 'F')]);
    expect(unsaved(rows, [])).toEqual({ total: 2, signals: 2, changes: 0 });
    expect(roleValue(rows[0]!)).toBeCloseTo(1.763, 9);
    expect(roleValue(rows[1]!)).toBeCloseTo(184.444, 3);
    expect(roleValue(rows[3]!)).toBeNull();
  });

  it('turn the turns of a puller into a speed once the diameter of its wheel is known', () => {
    const fields = [field('pull', 17.2, { unit: 'rpm' })];
    const known = rowsOf({ fields, proposed: [proposal('pull', 'v', 'rpm', { factor: 40 })] }, [], {});
    expect(mappingOf(known)).toEqual([mapping('pull', 'v', 'rpm', 40)]);
    expect(roleValue(known[0]!)).toBeCloseTo((17.2 / 60) * Math.PI * 40, 9);
    const [unknown] = rowsOf({ fields, proposed: [] }, [], {});
    const chosen = chosenMeaning(unknown!, 'v', 1.75);
    expect(chosen).toMatchObject({ unit: 'rpm', factor: null });
    const rows = rowsOf({ fields, proposed: [] }, [], { pull: chosen });
    expect(faultOf(rows)).toBe('Enter the diameter of the puller wheel for “pull”.');
    expect(inUnit(chosen, 'mm/s')).toEqual({ unit: 'mm/s', factor: 1 });
  });

  it('follow a choice over what is saved, what is saved over a name, and a name over a proposal', () => {
    const saved = [mapping('D', 'd', 'um')];
    const fields = [field('D', 1763), field('t1', 200, { role: 't1' }), field('T', 201)];
    const rows = rowsOf({ fields, proposed: [proposal('T', 't1', 'C')] }, saved, {});
    expect(rows.map(({ from, role }) => [from, role])).toEqual([
      ['saved', 'd'],
      ['name', 't1'],
      ['nothing', null],
    ]);
    expect(mappingOf(rows)).toEqual(saved);
    expect(unsaved(rows, saved).total).toBe(0);

    const chosen = rowsOf({ fields, proposed: [] }, saved, {
      T: { role: 't1', unit: 'C', factor: 1, offset: 0, isCalibrated: false },
      D: { role: 'd', unit: 'mm', factor: 1, offset: 0, isCalibrated: false },
    });
    expect(chosen.map(({ from, role }) => [from, role])).toEqual([
      ['choice', 'd'],
      ['nothing', null],
      ['choice', 't1'],
    ]);
    expect(unsaved(chosen, saved)).toEqual({ total: 2, signals: 1, changes: 1 });
  });

  it('count no change for a choice that equals what is saved', () => {
    const saved = [{ name: 'D', role: 'd', factor: 1, offset: 0 }];
    const same = { D: { role: 'd', unit: 'mm', factor: 1, offset: 0, isCalibrated: false } } as const;
    expect(unsaved(rowsOf(BOARD, saved, same), saved).changes).toBe(0);
    const none = { x: { role: null, unit: '', factor: 1, offset: 0, isCalibrated: false } } as const;
    expect(unsaved(rowsOf({ ...BOARD, proposed: [] }, [], none), []).total).toBe(0);
  });

  it('keep a declined proposal declined, until the field gets a role', () => {
    const none = { role: null, unit: '', factor: 1, offset: 0, isCalibrated: false };
    const declined = rowsOf(BOARD, [], { TempA: none });
    expect(unsaved(declined, [])).toEqual({ total: 2, signals: 1, changes: 1 });
    expect(mappingOf(declined).map(({ name }) => name)).toEqual(['D']);
    expect(unusedOf(declined, ['x'])).toEqual(['x', 'TempA']);
    const chosen = rowsOf({ ...BOARD, proposed: [] }, [], { TempA: { ...none, role: 't1' } });
    expect(unusedOf(chosen, ['x', 'TempA'])).toEqual(['x']);
  });

  it('keep that they were calibrated, whatever the pins have found', () => {
    const saved = [{ ...mapping('D', 'd', 'um'), calibrated: true }];
    const rows = rowsOf(BOARD, saved, {});
    expect(mappingOf(rows)[0]).toEqual(saved[0]);
    expect(unsaved(rows, saved).changes).toBe(0);
    expect(unsaved(rows, [mapping('D', 'd', 'um')]).changes).toBe(0);
    const pinned = { role: 'd', unit: 'um', factor: 1, offset: 0, isCalibrated: true } as const;
    expect(unsaved(rowsOf(BOARD, [mapping('D', 'd', 'um')], { D: pinned }), [mapping('D', 'd', 'um')]).changes).toBe(1);
  });

  it('keep what a silent board was assigned, until a field that is sent has its role', () => {
    const saved = [mapping('Old temp', 't1', 'C'), mapping('Old room', 'ta', 'C')];
    const rows = rowsOf(BOARD, saved, {});
    expect(rows.filter(({ isSent }) => !isSent).map(({ name }) => name)).toEqual(['Old room']);
    expect(mappingOf(rows).map(({ name }) => name)).toEqual(['D', 'TempA', 'Old room']);
    const removed = rowsOf(BOARD, saved, {
      'Old room': { role: null, unit: '', factor: 1, offset: 0, isCalibrated: false },
    });
    expect(mappingOf(removed).map(({ name }) => name)).toEqual(['D', 'TempA']);
    expect(unsaved(removed, saved).changes).toBe(1);
  });

  it('let a proposal give way to a choice, and say who has a role for certain', () => {
    const rows = rowsOf(BOARD, [], { x: { role: 'd', unit: 'mm', factor: 1, offset: 0, isCalibrated: false } });
    expect(rows[0]).toMatchObject({ name: 'D', from: 'nothing', role: null });
    expect([...takenBy(rows)]).toEqual([['d', 'x']]);
    expect([...takenBy(rowsOf(BOARD, [mapping('D', 'd', 'um')], {}))]).toEqual([['d', 'D']]);
  });

  it('are refused if two have the same meaning, as after a change on another device, or a factor is missing', () => {
    const elsewhere = [mapping('D', 'd', 'um')];
    const rows = rowsOf(BOARD, elsewhere, {
      x: { role: 'd', unit: 'mm', factor: 1, offset: 0, isCalibrated: false },
    });
    expect(faultOf(rows)).toBe('“D” and “x” have the same meaning. Change one of them.');
    expect(faultOf(rowsOf(BOARD, elsewhere, {}))).toBeNull();
    const untyped = rowsOf(BOARD, [], {
      D: { role: 'd', unit: 'mm', factor: null, offset: 0, isCalibrated: false },
    });
    expect(faultOf(untyped)).toMatch(/^Enter a factor other than 0 .* “D”/);
    expect(roleValue(untyped[0]!)).toBeNull();
  });

  it('are refused if a chosen unit makes a strand of 44 mm or a power of 16100 %, but not for a sensor that is off', () => {
    const fields = [field('D', 1.746), field('pwm', 161), field('T', 1350)];
    const of = (role: Role, unit: string) => ({ role, unit, factor: 1, offset: 0, isCalibrated: false });
    const faultWith = (choices: Choices) => faultOf(rowsOf({ fields, proposed: [] }, [], choices));
    expect(faultWith({ D: of('d', 'in') })).toBe('“D” would be 44.348 mm. Choose another unit, or another meaning.');
    expect(faultWith({ pwm: of('p1', 'share') })).toMatch(/^“pwm” would be 16.100.%\. Choose another unit/);
    expect(faultWith({ D: of('d', 'mm'), pwm: of('p1', 'of255'), T: of('t1', 'C') })).toBeNull();
    expect(faultOf(rowsOf({ fields, proposed: [] }, [mapping('D', 'd', 'in')], {}))).toBeNull();
  });

  it('a count that is chosen as the diameter waits for its pins like one that is proposed', () => {
    const seen = { fields: [field('counts', 782)], proposed: [] };
    const chosen = { role: 'd', unit: 'mm', factor: 1, offset: 0, isCalibrated: false } as const;
    const rows = rowsOf(seen, [], { counts: chosen });
    expect(rows[0]).toMatchObject({ role: 'd', needsPins: true });
    expect(mappingOf(rows)).toEqual([]);
    expect(unsaved(rows, []).total).toBe(0);
    const calibrated = { ...chosen, factor: 0.002, offset: 0.2, isCalibrated: true };
    expect(mappingOf(rowsOf(seen, [], { counts: calibrated }))).toHaveLength(1);
    // A thin strand, or none, is no count.
    expect(rowsOf({ ...seen, fields: [field('counts', 0.2)] }, [], { counts: chosen })[0]?.needsPins).toBe(false);
  });

  it.each([
    ['F', 'C', '°C'],
    ['C', '0.1C', null],
    ['C', 'F', '°F'],
  ])('a temperature in %s beside a set-point in %s has the wrong scale: %s', (own, other, expected) => {
    const fields = [field('T', 185), field('S', 185), field('v', 38)];
    const saved = [mapping('T', 't1', own), mapping('S', 's1', other), mapping('v', 'v', 'mm/s')];
    const rows = rowsOf({ fields, proposed: [] }, saved, {});
    expect(scaleOfOthers(rows[0]!, rows)).toBe(expected);
    expect(scaleOfOthers(rows[2]!, rows)).toBeNull();
  });

  it('are known to be out of date if the service has another meaning for a field', () => {
    const d = mapping('D', 'd', 'um');
    const fields = [field('D', 1763, { role: 'd', mapping: d }), field('x', 5)];
    expect(isBehind([{ ...d }], fields)).toBe(false);
    expect(isBehind([d, mapping('Old', 't1', 'C')], fields)).toBe(false);
    expect(isBehind([], fields)).toBe(true);
    expect(isBehind([{ ...d, unit: 'mm' }], fields)).toBe(true);
    expect(isBehind([d, mapping('x', 'rpm', '')], fields)).toBe(true);
  });

  it('begin in the unit that is printed, or that the value fits best; a kind that stays keeps its unit', () => {
    const [d, temp, , x] = rowsOf(BOARD, [], {});
    expect(chosenMeaning({ ...x!, last: 0.069 }, 'd', 1.75).unit).toBe('in');
    expect(chosenMeaning({ ...x!, last: 1763 }, 'd', 1.75).unit).toBe('um');
    expect(chosenMeaning({ ...x!, last: 782 }, 'd', 1.75).unit).toBe('mm');
    expect(chosenMeaning({ ...x!, printedUnit: '°F' }, 't2', 1.75).unit).toBe('F');
    expect(chosenMeaning(temp!, 's1', 1.75).unit).toBe('F');
    expect(chosenMeaning(d!, 'rpm', 1.75).unit).toBe('');
    expect(chosenMeaning(d!, null, 1.75).role).toBeNull();
  });
});

describe('what the line does not send', () => {
  const settings = { ...defaultLineSettings(), setSpeedMmPerS: 0, setpointsC: [null, 210] };
  const fields = [field('D', 1.76), field('TempA', 201), field('pull', 35)];
  const proposed = [proposal('D', 'd', 'mm'), proposal('TempA', 't1', 'C'), proposal('pull', 'v', 'mm/s')];

  it('is told by what the rows mean, confirmed or not', () => {
    expect(unsentOf(rowsOf({ fields, proposed }, [], {}), settings)).toEqual(['setpoints']);
    const rows = rowsOf({ fields, proposed: proposed.slice(0, 2) }, [], {});
    expect(unsentOf(rows, settings)).toEqual(['speed', 'setpoints']);
    expect(unsentOf(rows, { ...settings, setSpeedMmPerS: 40, setpointsC: [200] })).toEqual([]);
  });

  it('is offered as round numbers once all zones are hot', () => {
    const rows = rowsOf({ fields, proposed }, [], {});
    expect(setpointsAtHeat(rows, [1])).toEqual([200]);
    expect(setpointsAtHeat(rows, [1, 2])).toBeNull();
    const cold = [field('TempA', 41)];
    expect(setpointsAtHeat(rowsOf({ fields: cold, proposed }, [], {}), [1])).toBeNull();
  });

  it('is saved as far as it was typed, if it can be', () => {
    expect(settingsWith(NO_VALUES, settings)).toEqual({ body: {}, count: 0, areValid: true });
    const typed = { setSpeedMmPerS: 38, setpointsC: [200, 210, null] };
    expect(settingsWith(typed, settings)).toEqual({ body: typed, count: 2, areValid: true });
    for (const wrong of [
      { ...typed, setSpeedMmPerS: 0 },
      { ...typed, setpointsC: [900, 210] },
    ])
      expect(settingsWith(wrong, settings).areValid).toBe(false);
  });
});

describe('the progress of the set-up', () => {
  it('counts what is known, but not what cannot be asked for yet', () => {
    expect(progressOf(['diameter', 'temperature', 'speed', 'path'], [])).toMatchObject({ done: 0, total: 7 });
    expect(progressOf(['setpoints', 'path', 'pins'], [])).toEqual({
      done: 4,
      total: 7,
      open: ['setpoints', 'path', 'pins'],
      skipped: [],
    });
    expect(progressOf([], [])).toMatchObject({ done: 7, open: [] });
  });

  it('counts as done what was skipped, where a line can do without', () => {
    expect(progressOf(['power', 'path'], ['power', 'path'])).toEqual({
      done: 6,
      total: 7,
      open: ['path'],
      skipped: ['power'],
    });
  });
});

it.each([
  ['d', 'in', 1.76, true],
  ['d', 'in', 0.0692, false],
  ['d', 'mm', 0.0692, true],
  ['d', 'mm', 0, false],
  ['d', 'mm', 2.4, false],
  ['t1', 'C', 1950, true],
  ['t1', '0.1C', 1950, false],
  ['p1', 'share', 140, true],
  ['p1', 'of255', 140, false],
  ['v', 'mm/s', 5000, false],
] as const)('%s in %s with the value %d is marked as impossible: %s', (role, unit, last, expected) => {
  const rows = rowsOf({ fields: [field('x', last)], proposed: [] }, [mapping('x', role, unit)], {});
  expect(rows.map((row) => isImpossible(row, 1.75))).toEqual([expected]);
});

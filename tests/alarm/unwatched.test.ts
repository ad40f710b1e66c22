import { expect, test } from 'vitest';
import { headline, type StateOfLine } from '../../server/alarm/headline.ts';
import { unwatched, type WatchFacts } from '../../server/alarm/unwatched.ts';
import type { RecognisedSignals } from '../../server/reading/reading.ts';
import { canBeStrand } from '../../server/strand/possible-diameter.ts';
import { noAlarmText } from '../../web/alarms/alarm-text.ts';

const ALL: RecognisedSignals = { diameter: true, temperature: true, anything: true, unknownNames: [] };
const facts = (understood: Partial<RecognisedSignals> | null, over: Partial<WatchFacts> = {}): WatchFacts => ({
  understood: understood === null ? null : { ...ALL, ...understood },
  impossibleMm: null,
  nominalMm: 1.75,
  noDiameterForS: 0,
  ...over,
});
const LINE: StateOfLine = {
  stage: 'stopped',
  missing: [],
  alarms: [],
  spoolOrdinal: null,
  woundMm: null,
  diameterMm: Number.NaN,
  link: { phase: 'open', text: 'Reading.', silentForS: 0.02, live: true },
};
const stateOf = (watch: WatchFacts, line: Partial<StateOfLine> = {}) =>
  headline({ ...LINE, ...line, unwatched: unwatched(watch) });

test('never says that all is well when no name is understood', () => {
  const unknown = { diameter: false, temperature: false, anything: false };
  expect(stateOf(facts({ ...unknown, unknownNames: ['Dia_um', 'Temp', 'Target', 'Rpm', 'Fan'] }))).toEqual({
    sentence:
      'No name in the lines is understood (Dia_um, Temp, Target and 2 more): nothing is watched. Say in Set-up what each name stands for.',
    severity: 'abnormal',
  });
  expect(stateOf(facts({ ...unknown, anything: true, unknownNames: ['Dia_um'] })).sentence).toMatch(
    /^No diameter and no temperature comes: neither strand nor heat is watched\. Say in Set-up/,
  );
});

test('says that the strand is not watched when there is no diameter', () => {
  const { sentence, severity } = stateOf(facts({ diameter: false, unknownNames: ['dia'] }), { stage: 'heating' });
  expect(sentence).toBe('No diameter comes: the strand is not watched. Say in Set-up what each name stands for.');
  expect(severity).toBe('abnormal');
});

test('says that the heat is not watched when there is no temperature', () => {
  const watch = facts({ temperature: false });
  expect(stateOf(watch)).toEqual({
    sentence: 'The line stands still. No temperature comes: the heat is not watched.',
    severity: 'notice',
  });
  expect(stateOf(watch, { stage: 'winding', woundMm: 41_200, spoolOrdinal: 1, diameterMm: 1.752 }).sentence).toBe(
    'Winding: 41.2 m on spool 1, 1.752 mm, the strand is well. No temperature comes: the heat is not watched.',
  );
});

test.each([
  [1747, '1747 mm cannot be a strand: does the gauge send micrometres? Set its factor in Set-up.'],
  [174.8, '175 mm cannot be a strand: does the gauge send hundredths of a millimetre? Set its factor in Set-up.'],
  [17.5, '17.5 mm cannot be a strand: does the gauge send tenths of a millimetre? Set its factor in Set-up.'],
  [65_535, '65535 mm cannot be a strand: does the gauge send raw counts? Set its factor in Set-up.'],
])('asks for the unit of a gauge that sends %f mm', (impossibleMm, sentence) => {
  expect(canBeStrand(impossibleMm, 1.75)).toBe(false);
  expect(stateOf(facts({}, { impossibleMm }))).toEqual({ sentence, severity: 'abnormal' });
});

test('accepts the diameters of a bench line and its blobs', () => {
  for (const diameterMm of [0, 0.002, 1.75, 2.85, 6]) expect(canBeStrand(diameterMm, 1.75)).toBe(true);
  expect(canBeStrand(Number.NaN, 1.75)).toBe(false);
});

test('ignores a skipped reading, but not a gauge that sends nothing while strand is made', () => {
  const winding = { stage: 'winding', woundMm: 41_200, spoolOrdinal: 1 } as const;
  expect(stateOf(facts({}, { noDiameterForS: 0.5 }), winding).severity).toBe('calm');
  expect(stateOf(facts({}, { noDiameterForS: 14 }), winding)).toEqual({
    sentence: 'No diameter from the gauge for 14 s: the strand is not watched.',
    severity: 'abnormal',
  });
});

test('does not say that all is well before the first reading', () => {
  const link = { ...LINE.link, silentForS: null };
  expect(stateOf(facts(null), { link })).toEqual({
    sentence: 'Waiting for the first reading line.',
    severity: 'notice',
  });
});

test('reports a silent line as silent, understood or not', () => {
  const link = { ...LINE.link, silentForS: 9 };
  expect(stateOf(facts({ diameter: false }), { link }).sentence).toMatch(/^No reading line for 9 s/);
});

test('reports no alarms only for what is watched', () => {
  expect(noAlarmText([])).toBe('None. No alarm about the strand, the heat or the link.');
  expect(noAlarmText(['heat'])).toBe('None. No alarm about the strand or the link. The heat is not watched.');
  expect(noAlarmText(['strand', 'heat'])).toBe('None. No alarm about the link. Strand and heat are not watched.');
});

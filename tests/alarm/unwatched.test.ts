import { expect, test } from 'vitest';
import { type StateOfLine, sentenceOfState } from '../../server/alarm/sentence-of-state.ts';
import { unwatched, type WatchFacts } from '../../server/alarm/unwatched.ts';
import type { Understood } from '../../server/reading/understood.ts';
import { canBeStrand } from '../../server/strand/possible-diameter.ts';
import { noneText } from '../../web/live/none-text.ts';

const ALL: Understood = { diameter: true, temperature: true, anything: true, unknownNames: [] };
const facts = (understood: Partial<Understood> | null, over: Partial<WatchFacts> = {}): WatchFacts => ({
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
const said = (given: WatchFacts, line: Partial<StateOfLine> = {}) =>
  sentenceOfState({ ...LINE, ...line, unwatched: unwatched(given) });

test('a sketch of which no name is understood is never all well', () => {
  const unknown = { diameter: false, temperature: false, anything: false };
  expect(said(facts({ ...unknown, unknownNames: ['Dia_um', 'Temp', 'Target', 'Rpm', 'Fan'] }))).toEqual({
    sentence:
      'No name in the lines is understood (Dia_um, Temp, Target and 2 more): nothing is watched. Say in Set-up what each name stands for.',
    severity: 'abnormal',
  });
  expect(said(facts({ ...unknown, anything: true, unknownNames: ['Dia_um'] })).sentence).toMatch(
    /^No diameter and no temperature comes: neither strand nor heat is watched\. Say in Set-up/,
  );
});

test('without a diameter the strand is not watched, whatever the heat does', () => {
  const { sentence, severity } = said(facts({ diameter: false, unknownNames: ['dia'] }), { stage: 'heating' });
  expect(sentence).toBe('No diameter comes: the strand is not watched. Say in Set-up what each name stands for.');
  expect(severity).toBe('abnormal');
});

test('without a temperature the sentence says that the heat is not watched', () => {
  const given = facts({ temperature: false });
  expect(said(given)).toEqual({
    sentence: 'The line stands still. No temperature comes: the heat is not watched.',
    severity: 'notice',
  });
  expect(said(given, { stage: 'winding', woundMm: 41_200, spoolOrdinal: 1, diameterMm: 1.752 }).sentence).toBe(
    'Winding: 41.2 m on spool 1, 1.752 mm, the strand is well. No temperature comes: the heat is not watched.',
  );
});

test.each([
  [1747, '1747 mm cannot be a strand: does the gauge send micrometres? Set its factor in Set-up.'],
  [174.8, '175 mm cannot be a strand: does the gauge send hundredths of a millimetre? Set its factor in Set-up.'],
  [17.5, '17.5 mm cannot be a strand: does the gauge send tenths of a millimetre? Set its factor in Set-up.'],
  [65_535, '65535 mm cannot be a strand: does the gauge send raw counts? Set its factor in Set-up.'],
])('%f mm is no diameter of a strand, and the sentence asks for the unit', (impossibleMm, sentence) => {
  expect(canBeStrand(impossibleMm, 1.75)).toBe(false);
  expect(said(facts({}, { impossibleMm }))).toEqual({ sentence, severity: 'abnormal' });
});

test('what a bench line makes can be a strand, its blobs too', () => {
  for (const diameterMm of [0, 0.002, 1.75, 2.85, 6]) expect(canBeStrand(diameterMm, 1.75)).toBe(true);
  expect(canBeStrand(Number.NaN, 1.75)).toBe(false);
});

test('a gauge that skips a reading is no matter; one that sends nothing while strand is made is', () => {
  const winding = { stage: 'winding', woundMm: 41_200, spoolOrdinal: 1 } as const;
  expect(said(facts({}, { noDiameterForS: 0.5 }), winding).severity).toBe('calm');
  expect(said(facts({}, { noDiameterForS: 14 }), winding)).toEqual({
    sentence: 'No diameter from the gauge for 14 s: the strand is not watched.',
    severity: 'abnormal',
  });
});

test('before the first reading nothing is known, and nothing is called well', () => {
  const link = { ...LINE.link, silentForS: null };
  expect(said(facts(null), { link })).toEqual({ sentence: 'Waiting for the first reading line.', severity: 'notice' });
});

test('a silent line is told as silent, understood or not', () => {
  const link = { ...LINE.link, silentForS: 9 };
  expect(said(facts({ diameter: false }), { link }).sentence).toMatch(/^No reading line for 9 s/);
});

test('that nothing stands against something is said of what is watched only', () => {
  expect(noneText([])).toBe('None. Nothing stands against the strand, the heat or the link.');
  expect(noneText(['heat'])).toBe('None. Nothing stands against the strand or the link. The heat is not watched.');
  expect(noneText(['strand', 'heat'])).toBe('None. Nothing stands against the link. Strand and heat are not watched.');
});

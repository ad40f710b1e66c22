import { expect, test } from 'vitest';
import { headline, type StateOfLine } from '../../server/alarm/headline.ts';
import { unwatched, type WatchFacts } from '../../server/alarm/unwatched.ts';
import type { RecognisedSignals } from '../../server/reading/reading.ts';
import { canBeStrand } from '../../server/strand/possible-diameter.ts';
import { noAlarmText } from '../../web/alarms/alarm-text.ts';

const ZONE = { zone: 1, temperature: true, setpoint: true, power: true };
const ALL: RecognisedSignals = {
  diameter: true,
  twoAxes: true,
  travel: true,
  screwSpeed: true,
  temperature: true,
  zones: [ZONE, { ...ZONE, zone: 2 }],
  anything: true,
  unknownNames: [],
};
const facts = (understood: Partial<RecognisedSignals> | null, over: Partial<WatchFacts> = {}): WatchFacts => ({
  understood: understood === null ? null : { ...ALL, ...understood },
  impossibleMm: null,
  nominalMm: 1.75,
  impossibleMmPerS: null,
  noDiameterForS: 0,
  setSpeedMmPerS: 0,
  lengthContradicts: false,
  zoneNames: ['Feed', 'Die'],
  ...over,
});
const WINDING = { stage: 'winding', woundMm: 41_200, spoolOrdinal: 1 } as const;
const LINE: StateOfLine = {
  stage: 'stopped',
  missing: [],
  alarms: [],
  spoolOrdinal: null,
  woundMm: null,
  link: { phase: 'open', text: 'Reading.', silentForS: 0.02, live: true },
};
const stateOf = (watch: WatchFacts, line: Partial<StateOfLine> = {}) =>
  headline({ ...LINE, ...line, unwatched: unwatched(watch) });

test('never says that all is well when no name is understood', () => {
  const unknown = { diameter: false, temperature: false, anything: false };
  expect(stateOf(facts({ ...unknown, unknownNames: ['Dia_um', 'Temp', 'Target', 'Rpm', 'Fan'] }))).toMatchObject({
    sentence:
      'No name in the lines is understood (Dia_um, Temp, Target and 2 more): nothing is watched. Say in Set-up what each name stands for.',
    severity: 'abnormal',
  });
  expect(stateOf(facts({ ...unknown, anything: true, unknownNames: ['Dia_um'] })).sentence).toMatch(
    /^Neither diameter nor temperature arrives: neither strand nor heat is watched\. Say in Set-up/,
  );
});

test('says that the strand is not watched when there is no diameter', () => {
  const { sentence, severity } = stateOf(facts({ diameter: false, unknownNames: ['dia'] }), { stage: 'heating' });
  expect(sentence).toBe('No diameter arrives: the strand is not watched. Say in Set-up what each name stands for.');
  expect(severity).toBe('abnormal');
  expect(stateOf(facts({ diameter: false })).sentence).toBe('No diameter arrives: the strand is not watched.');
  const nothing = { diameter: false, anything: false, unknownNames: ['Dia_um', 'Temp', 'Fan'] };
  expect(stateOf(facts(nothing)).sentence).toMatch(/\(Dia_um, Temp, Fan\)/);
});

test('says that the heat is not watched when there is no temperature', () => {
  const watch = facts({ temperature: false });
  expect(stateOf(watch)).toMatchObject({
    sentence: 'The line is standing still. No temperature arrives: the heat is not watched.',
    severity: 'notice',
  });
  expect(stateOf(watch, WINDING).sentence).toBe(
    'Winding spool 1: 41 m, no fault seen now. No temperature arrives: the heat is not watched.',
  );
});

test('asks for a speed, and never says 0.0 m, where places are unknown', () => {
  const ask = 'Neither speed nor length arrives: places on the spool are unknown. Set the strand speed in Set-up.';
  const watch = facts({ travel: false });
  expect(stateOf(watch, { ...WINDING, woundMm: 0 })).toMatchObject({
    sentence: `Winding spool 1, no fault seen now. ${ask}`,
    severity: 'notice',
  });
  expect(stateOf(watch, { ...WINDING, woundMm: 0, spoolOrdinal: null }).sentence).toMatch(/^Winding, no fault/);
  expect(stateOf(watch, { ...WINDING, stage: 'purging' }).sentence).toBe(`Purging: ready to wind. ${ask}`);
  expect(stateOf(facts({ travel: false }, { setSpeedMmPerS: 30 }), WINDING).severity).toBe('calm');
});

test.each([
  ['power', {}, 'No power arrives from Die: a lost heater is noticed late, a weak one only while heating up.'],
  ['setpoint', {}, 'No set-point arrives from Die: a wrong temperature goes unnoticed.'],
  ['power', { setpoint: false }, 'No set-point or power arrives from Die: a lost heater goes unnoticed.'],
  ['temperature', {}, 'No temperature arrives from Die: heat faults go unnoticed.'],
])('names what goes unnoticed in a zone without %s', (missing, over, sentence) => {
  const watch = facts({ zones: [ZONE, { ...ZONE, zone: 2, [missing]: false, ...over }] });
  expect(stateOf(watch, WINDING)).toMatchObject({
    sentence: `Winding spool 1: 41 m, no fault seen now. ${sentence}`,
    severity: 'notice',
  });
  expect(stateOf(watch)).toMatchObject({ sentence: `The line is standing still. ${sentence}`, severity: 'notice' });
  expect(stateOf(watch, { stage: 'heating' }).sentence).toBe(`Heating up. ${sentence}`);
  const purging = { ...WINDING, stage: 'purging', missing: ['the strand is standing still'] } as const;
  expect(stateOf(watch, purging).sentence).toBe(`Purging. Before winding: the strand is standing still. ${sentence}`);
});

test('names the zones concerned, or says that it is all of them', () => {
  const blind = (zone: number) => ({ ...ZONE, zone, power: false });
  expect(unwatched(facts({ zones: [blind(1), blind(2)] })).heatInPart).toMatch(/^No power arrives from any zone: /);
  expect(unwatched(facts({ zones: [blind(1)] })).heatInPart).toMatch(/^No power arrives from Feed: /);
  expect(unwatched(facts({ zones: [ZONE, blind(3)] })).heatInPart).toMatch(/^No power arrives from Zone 3: /);
  const two = unwatched(facts({ zones: [blind(1), { ...ZONE, zone: 2, setpoint: false }] })).heatInPart;
  expect(two).toMatch(/^No power arrives from Feed: .+\. No set-point arrives from Die: .+\.$/);
});

test('a line of one axis, or without a screw speed, is calm but not all well', () => {
  for (const [less, minor] of [
    [{ twoAxes: false }, ['outOfRound']],
    [{ screwSpeed: false }, ['coldScrew']],
  ] as const) {
    expect(unwatched(facts(less)).minor).toEqual(minor);
    expect(stateOf(facts(less), WINDING)).toMatchObject({
      sentence: 'Winding spool 1: 41 m, no fault seen now.',
      severity: 'calm',
    });
  }
});

test('names a zone that is off its set-point while winding', () => {
  const offHeat = ['Die is 16 °C above its set-point'];
  expect(stateOf(facts({}), { ...WINDING, offHeat })).toMatchObject({
    sentence: 'Winding spool 1: 41 m, the strand is fine. Die is 16 °C above its set-point.',
    severity: 'notice',
  });
  expect(stateOf(facts({}), { ...WINDING, offHeat: ['the heaters are off'] }).sentence).toMatch(
    /the strand is fine\. The heaters are off\.$/,
  );
  const watch = facts({ travel: false });
  expect(stateOf(watch, { ...WINDING, offHeat }).sentence).toMatch(
    /no fault seen in the strand now\. Die is 16 °C above its set-point\. Neither speed nor length arrives/,
  );
  expect(stateOf(facts({}), { ...WINDING, stage: 'stopped', offHeat }).severity).toBe('calm');
});

test.each([
  [1747, '1747 mm cannot be a strand: does the gauge send micrometres? Set its factor in Set-up.'],
  [174.8, '175 mm cannot be a strand: does the gauge send hundredths of a millimetre? Set its factor in Set-up.'],
  [17.5, '17.5 mm cannot be a strand: does the gauge send tenths of a millimetre? Set its factor in Set-up.'],
  [65_535, '65535 mm cannot be a strand: does the gauge send raw counts? Set its factor in Set-up.'],
])('asks for the unit of a gauge that sends %f mm', (impossibleMm, sentence) => {
  expect(canBeStrand(impossibleMm, 1.75)).toBe(false);
  expect(stateOf(facts({}, { impossibleMm }))).toMatchObject({ sentence, severity: 'abnormal' });
});

test('accepts the diameters of a bench line and its blobs', () => {
  for (const diameterMm of [0, 0.002, 1.75, 2.85, 6]) expect(canBeStrand(diameterMm, 1.75)).toBe(true);
  expect(canBeStrand(Number.NaN, 1.75)).toBe(false);
});

test('ignores a skipped reading, but not a gauge that sends nothing while strand is made', () => {
  const winding = { stage: 'winding', woundMm: 41_200, spoolOrdinal: 1 } as const;
  expect(stateOf(facts({}, { noDiameterForS: 2.9 }), winding).severity).toBe('calm');
  expect(stateOf(facts({}, { noDiameterForS: 3 }), winding).severity).toBe('abnormal');
  expect(stateOf(facts({}, { noDiameterForS: 14 }), winding)).toMatchObject({
    sentence: 'No diameter from the gauge for 14 s: the strand is not watched.',
    severity: 'abnormal',
  });
});

test('does not say that all is well before the first reading', () => {
  const link = { ...LINE.link, silentForS: null };
  expect(stateOf(facts(null), { link })).toMatchObject({
    sentence: 'Waiting for the first reading.',
    severity: 'notice',
  });
});

test('reports a silent line as silent, understood or not', () => {
  const link = { ...LINE.link, silentForS: 9 };
  expect(stateOf(facts({ diameter: false }), { link }).sentence).toMatch(/^No data for 9 s/);
});

test('reports no alarm while the connection is lost only as what was known before', () => {
  expect(noAlarmText(['heat'], 20_000)).toBe('Not known while the connection is lost. There was none 20 s ago.');
});

test('reports no alarms only for what is watched', () => {
  expect(noAlarmText([])).toBe('None. No alarm about the strand, the heat or the link.');
  expect(noAlarmText(['heat'])).toBe('None. No alarm about the strand or the link. The heat is not watched.');
  expect(noAlarmText(['strand', 'heat'])).toBe(
    'None. No alarm about the link. The strand is not watched. The heat is not watched.',
  );
  expect(noAlarmText(['outOfRound', 'coldScrew'])).toBe(
    'None. No alarm about the strand, the heat or the link. Whether the strand is out of round is not watched: that needs a gauge with two axes. A screw turning in a cold barrel is not noticed: no screw speed (rpm) arrives.',
  );
  expect(noAlarmText(['places', 'heatInPart'])).toBe(
    'None. No alarm about the strand, the heat or the link. Places on the spool are unknown. The heat is watched only in part.',
  );
});

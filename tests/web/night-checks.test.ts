import { describe, expect, it } from 'vitest';
import { defaultLineSettings } from '../../server/settings/check-line-settings.ts';
import { type NightCheck, type NightFacts, nightChecks } from '../../web/night/night-checks.ts';
import { madeUpState } from '../service/made-up-state.ts';

const MADE_UP = madeUpState('Bench line');
const NOW_MS = 1.8e12;
const HOUR_MS = 3_600_000;

const winding = {
  ...MADE_UP,
  serverTimeMs: NOW_MS,
  link: { ...MADE_UP.link, phase: 'open', silentForS: 0 },
  now: { ...MADE_UP.now, diameterMm: 1.75, speedMmPerS: 10 },
  zones: [{}],
  spool: { woundMm: 10_000 },
  alarms: [],
  suppressed: [],
  notWatched: [],
  notificationProblems: [],
} as unknown as NightFacts['live'];
const drill = { startedMs: NOW_MS - HOUR_MS, outcome: 'all', people: [{ name: 'Ina', confirmedMs: NOW_MS - HOUR_MS }] };
const FACTS: NightFacts = {
  live: winding,
  people: { contacts: [{ channelIds: [1] }], drills: [drill] } as unknown as NightFacts['people'],
  record: {
    freeBytes: 5e9,
    backups: [{ timeMs: NOW_MS - 24 * HOUR_MS }],
    backupProblem: null,
  } as unknown as NightFacts['record'],
  settings: defaultLineSettings(),
  nowMs: NOW_MS,
};

const check = (id: NightCheck['id'], change: Partial<NightFacts> = {}) =>
  nightChecks({ ...FACTS, ...change }).find((one) => one.id === id);
const live = (change: object) => ({ live: { ...winding, ...change } as NightFacts['live'] });

describe('the checks before a night', () => {
  it('leave only the hopper to a person when everything is fine', () => {
    const states = nightChecks(FACTS).map(({ id, state }) => `${id} ${state}`);
    expect(states.filter((one) => !one.endsWith(' fine'))).toEqual(['hopper ask']);
  });

  it('want a test that a person confirmed within a day', () => {
    const people = (change: object) => ({ people: { ...FACTS.people, ...change } as NightFacts['people'] });
    const old = { ...drill, startedMs: NOW_MS - 25 * HOUR_MS };
    const unanswered = { ...drill, people: [{ name: 'Ina', confirmedMs: null }] };
    for (const change of [{ drills: [] }, { drills: [old] }, { drills: [unanswered] }, { contacts: [] }])
      expect(check('phone', people(change))?.state).toBe('missing');
    expect(check('phone', live({ notificationProblems: ['The mail server refuses.'] }))?.text).toContain('mail server');
  });

  it('say first that no one is notified, then the worst problem, with a count of the others', () => {
    const facts = live({ notificationProblems: ['The mail server refuses.', 'The broker is gone.', 'No heartbeat.'] });
    expect(check('phone', facts)?.text).toBe('The mail server refuses. And 2 more problems.');
    const noOne = { people: { ...FACTS.people, contacts: [] } };
    expect(check('phone', { ...facts, ...noOne })?.text).toMatch(/^No one is notified/);
  });

  it('name open and silenced alarms, which would wake nobody', () => {
    expect(check('alarms', live({ alarms: [{ state: 'unacknowledged' }] }))?.text).toMatch(/to acknowledge/);
    expect(check('alarms', live({ alarms: [{ state: 'acknowledged' }] }))?.text).toMatch(/still active/);
    for (const state of ['shelved', 'outOfService'])
      expect(check('alarms', live({ suppressed: [{ state }] }))?.state).toBe('missing');
    expect(check('alarms', live({ suppressed: [{ state: 'suppressedByDesign' }] }))?.state).toBe('fine');
  });

  it('say when the spool will be full, and what the hopper must hold', () => {
    expect(check('spool', live({ spool: { woundMm: 300_000 } }))).toMatchObject({
      state: 'missing',
      text: expect.stringMatching(/full in .* Change the spool now/),
    });
    expect(check('spool', live({ spool: null }))?.state).toBe('ask');
    // 10 mm/s of 1.75 mm at the default density, for eight hours.
    const volumeMm3 = 10 * 3600 * 8 * Math.PI * (1.75 / 2) ** 2;
    const grams = Math.round((volumeMm3 * defaultLineSettings().densityGPerCm3) / 1000);
    expect(check('hopper')?.text).toContain(`${grams}\u00a0g in eight hours`);
  });

  it('want data, room, a backup of this week and a clock that agrees', () => {
    expect(check('strand', live({ link: { ...winding.link, phase: 'waiting' } }))?.state).toBe('missing');
    expect(check('heat', live({ notWatched: ['heatInPart'] }))?.state).toBe('missing');
    const record = (change: object) => ({ record: { ...FACTS.record, ...change } as NightFacts['record'] });
    expect(check('disk', record({ freeBytes: 1e9 }))?.state).toBe('missing');
    expect(check('backup', record({ backups: [] }))?.state).toBe('missing');
    expect(check('backup', record({ backups: [{ timeMs: NOW_MS - 8 * 24 * HOUR_MS }] }))?.state).toBe('missing');
    expect(check('clock', live({ serverTimeMs: NOW_MS - HOUR_MS }))?.state).toBe('missing');
  });
});

import { describe, expect, it } from 'vitest';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { tickEveryMs } from '../../web/alerting/alarm-events.ts';
import { arrivals, undecided } from '../../web/alerting/arrivals.ts';
import { instructionOf, spokenKey } from '../../web/live/headline-instruction.ts';
import { titleNow } from '../../web/shell/page-title.ts';

describe('the instruction below the headline', () => {
  it('is the first sentence of the check, marked as a check if it is a question', () => {
    expect(instructionOf({ firstCheck: 'Go there now and unplug the heater. Then look.' })).toBe(
      'Go there now and unplug the heater.',
    );
    expect(instructionOf({ firstCheck: 'Is the hopper empty? Is the puller on?' })).toBe(
      'Check first: is the hopper empty?',
    );
    expect(instructionOf({ firstCheck: '' })).toBeNull();
  });
});

describe('the headline as it is read out', () => {
  const state: Parameters<typeof spokenKey>[0] = {
    sentence: 'Winding spool 1: 41 m, all well.',
    severity: 'calm',
    sentenceAlarmId: null,
    alarms: [],
  };
  const blob = (occurrences: number) => ({
    ...state,
    sentence: `${occurrences} blobs.`,
    sentenceAlarmId: 4,
    alarms: [{ id: 4, occurrences } as AlarmView],
  });

  it('is not repeated for a new number, but for another state, alarm or occurrence', () => {
    const key = spokenKey(state);
    expect(spokenKey({ ...state, sentence: 'Winding spool 1: 42 m, all well.' })).toBe(key);
    expect(spokenKey({ ...state, sentence: 'The line is standing still.' })).not.toBe(key);
    expect(spokenKey({ ...state, severity: 'notice' })).not.toBe(key);
    expect(spokenKey(blob(2))).not.toBe(spokenKey(blob(3)));
  });
});

describe('blobs and thin spots on their way to the winder', () => {
  const section = (change: Partial<SectionView>) =>
    ({
      id: 'm1',
      kind: 'blob',
      certainty: 'sure',
      verdict: 'discard',
      decision: null,
      reachesWinderInS: 9,
      ...change,
    }) as SectionView;

  it('are listed in the order of their arrival', () => {
    const sections = [
      section({ id: 'm2', reachesWinderInS: 30 }),
      section({}),
      section({ id: 'm3', kind: 'neck', reachesWinderInS: 20 }),
    ];
    expect(arrivals(sections).map(({ id }) => id)).toEqual(['m1', 'm3', 'm2']);
  });

  it('leave out what is wound, dismissed or of another kind, and mark what is not sure', () => {
    const others = [
      section({ reachesWinderInS: null }),
      section({ reachesWinderInS: 0 }),
      section({ verdict: 'good' }),
      section({ decision: 'left' }),
      section({ kind: 'offTolerance', verdict: 'doubtful' }),
    ];
    expect(arrivals(others)).toEqual([]);
    expect(arrivals([section({ certainty: 'inDoubt', verdict: 'doubtful' })])).toMatchObject([{ sure: false }]);
  });

  it('ask what was done about them, the next to arrive first, then those that have just passed, the latest first', () => {
    const at = (id: string, fromGaugeMm: number, toTimeMs: number, change: Partial<SectionView> = {}) =>
      section({ id, spoolId: 1, fromGaugeMm, toGaugeMm: fromGaugeMm + 10, toTimeMs, ...change });
    const state = {
      spool: { id: 1 },
      now: { gaugeMm: 21_000, timeMs: 700_000 },
      limits: { gaugeToWinderMm: 1000 },
      sections: [
        at('far', 20_900, 690_000),
        at('near', 20_100, 650_000),
        at('passed', 19_000, 600_000),
        at('long ago', 3000, 99_000),
        at('before', 18_000, 560_000, { kind: 'neck' }),
        at('left', 20_500, 670_000, { decision: 'left' }),
        at('of no spool', 20_600, 675_000, { spoolId: null }),
        at('drift', 20_700, 680_000, { kind: 'drift' }),
      ],
    } as unknown as LiveState;
    expect(undecided(state).map(({ id }) => id)).toEqual(['near', 'far', 'passed', 'before']);
    expect(undecided({ ...state, spool: null })).toEqual([]);
  });

  it('tick faster the nearer they are', () => {
    expect([61, 60, 30, 3].map(tickEveryMs)).toEqual([null, 4000, 2000, 250]);
  });
});

describe('the title of the page', () => {
  const shown = { text: 'Winding 41 m – Strandward', about: 'calm null live', sinceMs: 0 };
  const next = { text: 'Winding 42 m – Strandward', about: shown.about };

  it('changes a number every ten seconds at most, and at once for an alarm', () => {
    expect(titleNow(shown, next, 9_999)).toBe(shown);
    expect(titleNow(shown, next, 10_000)).toEqual({ ...next, sinceMs: 10_000 });
    const alarm = { text: 'Blob – Strandward', about: 'danger 4 live' };
    expect(titleNow(shown, alarm, 1)).toEqual({ ...alarm, sinceMs: 1 });
  });
});

import { describe, expect, it, test } from 'vitest';
import { propose } from '../../server/proposal/propose.ts';
import type { RoleMapping } from '../../server/reading/layout-builder.ts';
import { inRoleUnit } from '../../server/reading/units.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { Bench, START_MS } from '../reading/intake-bench.ts';
import { expectSameForAnySplit } from './any-split.ts';
import { BOARDS, type Board, bytesOf, type Moment, momentAt } from './boards.ts';
import { MORE_BOARDS } from './more-boards.ts';

const SECONDS = 5;
/** A page asks once a second. */
const LOOK_EVERY = 3;
/** The last three values of a signal are from these lines; of one that is printed on change, from more. */
const LINES_OF_VALUES = { usual: 20, rare: 80 };

/** Some seconds of a board, from this line. @returns what was true at each line */
function listen(bench: Bench, board: Board, from = 0): Moment[] {
  return Array.from({ length: (board.seconds ?? SECONDS) * board.linesPerS }, (_, n) => {
    const i = from + n;
    const moment = momentAt(i / board.linesPerS, board.isCold);
    bench.bytes(bytesOf(board, i, moment), START_MS + moment.s * 1000);
    return moment;
  });
}

function trueValue(moment: Moment, role: string): number {
  const zone = Number(role.slice(1)) - 1;
  if (/^t\d$/.test(role)) return moment.t[zone] ?? Number.NaN;
  if (/^s\d$/.test(role)) return moment.set[zone] ?? Number.NaN;
  if (/^p\d$/.test(role)) return moment.p[zone] ?? Number.NaN;
  return moment[role as 'd' | 'dx' | 'dy' | 'v' | 'len' | 'rpm' | 'amp' | 'turns'];
}

/** How far a value may be off for its rounding, and for what changes while a reading is collected. */
function within(role: string): number {
  if (role.startsWith('d')) return 0.012;
  if (/^[ts]\d$/.test(role)) return 0.7;
  return /^p\d$/.test(role) ? 0.012 : role === 'len' ? 40 : 0.6;
}

const wordsOf = (text = '') => text.split(' ').filter((word) => word !== '');

describe.each([...BOARDS, ...MORE_BOARDS])('a board with $name', (board) => {
  it('is proposed right after some seconds, and nothing wrong', () => {
    const bench = new Bench();
    listen(bench, board);
    const proposed = propose(bench.intake.seenFields(), 1.75).filter(({ needsPins }) => !needsPins);
    const roles = proposed.map(({ role }): string => role).filter((role) => !wordsOf(board.also).includes(role));
    expect(roles.sort()).toEqual(wordsOf(board.roles).sort());
    const mappings = proposed.map(
      ({ name, role, unit, factor }): RoleMapping => ({ name, role, ...inRoleUnit({ role, unit, factor, offset: 0 }) }),
    );
    const mapped = new Bench({ roles: mappings });
    const moments = listen(mapped, board);
    const { layout } = mapped.reading(-1);
    for (const role of wordsOf(board.roles)) {
      const column = layout.signals.findIndex((signal) => signal.role === role);
      const values = mapped.readings.map((reading) => reading.values[column] ?? Number.NaN);
      const sent = values.filter((value) => !Number.isNaN(value)).slice(-3);
      expect(sent.length, role).toBeGreaterThan(0);
      const truths = moments
        .slice(-LINES_OF_VALUES[board.seconds === undefined ? 'usual' : 'rare'])
        .map((moment) => trueValue(moment, role));
      for (const value of sent)
        expect(Math.min(...truths.map((truth) => Math.abs(value - truth))), role).toBeLessThanOrEqual(within(role));
    }
  });

  // The port is opened while the board runs, so any of its lines may be the first.
  it('gives each name the same zone, whichever line comes first', () => {
    const zones = new Map<string, string>();
    for (let from = 0; from < 8; from++) {
      const bench = new Bench();
      listen(bench, board, from);
      for (const { name, role } of propose(bench.intake.seenFields(), 1.75)) {
        if (!/^[tspf]\d$/.test(role)) continue;
        expect(role, `${name}, from line ${from}`).toBe(zones.get(name) ?? role);
        zones.set(name, role);
      }
    }
    expect(zones.size > 0).toBe(/\bt\d/.test(board.roles));
  });

  it('is never proposed a role that it does not send', () => {
    const sent = wordsOf(`${board.roles} ${board.also ?? ''} ${board.open ?? ''}`);
    const bench = new Bench();
    for (let i = 0; i < SECONDS * board.linesPerS; i++) {
      const moment = momentAt(i / board.linesPerS, board.isCold);
      bench.bytes(bytesOf(board, i, moment), START_MS + moment.s * 1000);
      if (!IS_LONG_CHECK && i % LOOK_EVERY !== 0) continue;
      const proposed = propose(bench.intake.seenFields(), 1.75).filter(({ needsPins }) => !needsPins);
      expect(sent, `after ${moment.s} s`).toEqual(expect.arrayContaining(proposed.map(({ role }): string => role)));
    }
  });
});

test.each(casesOf([...BOARDS, ...MORE_BOARDS], 8))(
  'a board with $name gives the same readings however its bytes are cut',
  (board) => {
    expectSameForAnySplit(Buffer.concat(Array.from({ length: 60 }, (_, i) => bytesOf(board, i))));
  },
);

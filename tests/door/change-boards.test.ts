import { describe, expect, it } from 'vitest';
import { propose } from '../../server/proposal/propose.ts';
import { inRoleUnit } from '../../server/reading/units.ts';
import { seeded } from '../chance.ts';
import { Bench, START_MS } from '../reading/intake-bench.ts';
import { CHANGE_BOARDS, linesOf, type PrintedLine } from './change-boards.ts';

/** A set-point that is printed every 15 s comes twice in this time. */
const PROPOSED_S = 20;
/** After it everything has changed once more. */
const READ_S = 20;
const DAMAGED_SHARE = 0.03;
const NOISY_S = 60;

const rolesOf = (bench: Bench) => propose(bench.intake.seenFields(), 1.75).map(({ role }): string => role);

function listen(bench: Bench, lines: readonly PrintedLine[], fromS: number, toS: number): void {
  for (const { s, bytes } of lines) if (s >= fromS && s < toS) bench.bytes(bytes, START_MS + s * 1000);
}

describe.each(CHANGE_BOARDS)('a board that prints only what has changed: $name', (board) => {
  const lines = linesOf(board, NOISY_S);
  const wanted = board.roles.split(' ').sort();
  const proposedS = board.seconds ?? PROPOSED_S;

  it('is proposed whole within seconds, and never a role that it does not send', () => {
    const bench = new Bench();
    for (let s = 0; s < proposedS; s++) {
      listen(bench, lines, s, s + 1);
      expect(wanted, `after ${s} s`).toEqual(expect.arrayContaining(rolesOf(bench)));
    }
    expect(rolesOf(bench).sort()).toEqual(wanted);
  });

  it('is read at once when the proposal is confirmed', () => {
    const bench = new Bench();
    listen(bench, lines, 0, proposedS);
    const roles = propose(bench.intake.seenFields(), 1.75).map(({ name, role, unit, factor }) => ({
      name,
      role,
      ...inRoleUnit({ role, unit, factor, offset: 0 }),
    }));
    const mapped = new Bench({ roles, learnt: bench.intake.learnt });
    listen(mapped, lines, proposedS, proposedS + READ_S);
    for (const role of wanted)
      expect(
        mapped.signal(role).some((value) => !Number.isNaN(value)),
        role,
      ).toBe(true);
    const setpoint = mapped.signal('s1').find((value) => !Number.isNaN(value));
    if (wanted.includes('s1')) expect(setpoint).toBeCloseTo(200, 1);
    expect(mapped.intake.seenFields().length).toBe(bench.intake.seenFields().length);
  });

  it('gets no other names and no wrong roles over a noisy cable', () => {
    const clean = new Bench();
    listen(clean, lines, 0, NOISY_S);
    const names = clean.intake.seenFields().map(({ name }) => name);
    const random = seeded(5);
    const noisy = new Bench();
    for (let s = 0; s < NOISY_S; s++) {
      const damaged = lines.map((line) =>
        random() < DAMAGED_SHARE ? { ...line, bytes: damage(line.bytes, random) } : line,
      );
      listen(noisy, damaged, s, s + 1);
      expect(names).toEqual(expect.arrayContaining(noisy.intake.seenFields().map(({ name }) => name)));
      expect(wanted).toEqual(expect.arrayContaining(rolesOf(noisy)));
    }
  });
});

/** A flipped bit, or a lost stretch. */
function damage(bytes: Buffer, random: () => number): Buffer {
  const at = Math.floor(random() * bytes.length);
  if (random() < 0.4) {
    const end = at + 1 + Math.floor(random() * 6);
    return Buffer.concat([bytes.subarray(0, at), bytes.subarray(end)]);
  }
  const copy = Buffer.from(bytes);
  copy[at] = (copy[at] ?? 0) ^ (1 << Math.floor(random() * 8));
  return copy;
}

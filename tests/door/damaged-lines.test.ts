import { appendFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { ReadingIntake } from '../../server/reading/intake.ts';
import { casesOf, IS_LONG_CHECK } from '../long-check.ts';
import { boardLine, checked } from '../reading/intake-bench.ts';
import { BOARDS, bytesOf } from './boards.ts';
import { damageLines, type PrintCycle } from './damaged-lines.ts';
import { MORE_BOARDS } from './more-boards.ts';
import { SKETCHES } from './sketches.ts';

/** The long check damages 3.5 million lines. */
const LINES = IS_LONG_CHECK ? 56_000 : 400;

const TIMEOUT_MS = IS_LONG_CHECK ? 600_000 : 30_000;

const text =
  (print: (i: number) => string): PrintCycle =>
  (i) =>
    Buffer.from(`${print(i)}\n`);
const fields = (i: number) =>
  boardLine(i)
    .split(' ')
    .map((field) => field.split('='));
const CONTRACT: readonly (readonly [string, PrintCycle])[] = [
  ['named lines', text((i) => boardLine(i))],
  ['named lines with checksums', text((i) => checked(boardLine(i)))],
  [
    'JSON',
    text(
      (i) =>
        `{${fields(i)
          .map(([name, value]) => `"${name}":${value}`)
          .join(',')}}`,
    ),
  ],
  [
    'columns',
    text((i) =>
      i === 0
        ? 'ms,n,d,t1'
        : fields(i)
            .map(([, value]) => value)
            .join(','),
    ),
  ],
];
const ALL: readonly (readonly [string, PrintCycle])[] = [
  ...CONTRACT,
  ...SKETCHES.map((sketch) => {
    const print: PrintCycle = (i) => Buffer.from(sketch.print(i / sketch.linesPerS, i));
    return [sketch.name, print] as const;
  }),
  ...[...BOARDS, ...MORE_BOARDS].map((board) => [board.name, (i: number) => bytesOf(board, i)] as const),
];

const BELIEVED_AT_MOST: Readonly<Record<string, number>> = {
  'named lines': 0.09,
  'named lines with checksums': 0,
  JSON: 0.1,
  columns: 0.3,
  'comma sentence with a checksum': 0,
};

describe.each(casesOf(ALL, 6))('damaged lines of %s', (name, print) => {
  it(
    'give no number that they do not state',
    () => {
      const figures = damageLines((options) => new ReadingIntake(options), print, LINES, 11);
      if (process.env.FIGURES)
        appendFileSync(
          process.env.FIGURES,
          `${JSON.stringify({ name, ...figures, newNames: [...figures.newNames] })}\n`,
        );
      expect(figures.invented).toBe(0);
      // Without a checksum a changed digit cannot be told from a measured one; there must not be more than that.
      expect(figures.believed).toBeLessThanOrEqual((BELIEVED_AT_MOST[name] ?? 0.5) * LINES);
    },
    TIMEOUT_MS,
  );
});

/** What the command was asked to do, from its arguments. */

import { parseArgs } from 'node:util';
import { LINE_SHAPES, type LineShape } from '../device/line-format.ts';
import { DEFAULT_SCENARIO, findScenario } from '../scenarios/index.ts';
import type { Scenario } from '../scenarios/scenario.ts';
import { SimulatorInputError } from '../simulator-input-error.ts';
import { parseTarget, type Target } from './target.ts';

export interface RunOptions {
  readonly scenario: Scenario;
  readonly seed: number;
  readonly pace: number | 'max';
  readonly rateHz: number;
  readonly shape: LineShape;
  readonly checksum: boolean;
  readonly axes: 1 | 2;
  readonly also: readonly string[];
  readonly gaugeToWinderMm: number;
  /** null = without end. */
  readonly durationS: number | null;
  readonly target: Target;
  readonly truthFile: string | null;
}

export type Wish = { readonly do: 'help' } | { readonly do: 'list' } | ({ readonly do: 'run' } & RunOptions);

export const HELP = `Simulates a filament extrusion line and sends its reading lines.

  strandward simulate [options]

  --scenario NAME    what happens on the line (default ${DEFAULT_SCENARIO}; --list shows all)
  --seed N           another whole number is another evening of the same kind (default 1)
  --pace X           1 = real time (default), 20 = twenty times as fast, max = as fast as it is read
  --rate HZ          reading lines a second, up to 200 (default 50)
  --shape SHAPE      ${LINE_SHAPES.join(', ')} (default named)
  --checksum, --no-checksum
                     whether lines end in a checksum (default: named yes, the others no)
  --axes N           1 = one diameter (default), 2 = a gauge with two axes
  --also NAMES       further fields in each line, such as turns,amp,bar,ta,rh
  --path MM          strand between gauge and winder (default 1200)
  --duration S       end after so many simulated seconds (default: no end)
  --to WHERE         stdout (default), tcp:PORT or tcp:HOST:PORT (listens, on loopback unless told otherwise),
                     pty:LINK (a pseudo-terminal under that path; needs socat)
  --truth FILE       write what really happened, one JSON object a line
  --list             show the scenarios
  --help             show this
`;

/**
 * @throws SimulatorInputError that names the argument and the remedy
 */
export function parseOptions(args: readonly string[]): Wish {
  const given = parse(args);
  if (given.help === true) return { do: 'help' };
  if (given.list === true) return { do: 'list' };
  const shape = oneOf('--shape', given.shape ?? 'named', LINE_SHAPES);
  if (given.checksum === true && given['no-checksum'] === true) {
    throw new SimulatorInputError('--checksum and --no-checksum exclude each other; give one of them.');
  }
  return {
    do: 'run',
    scenario: findScenario(given.scenario ?? DEFAULT_SCENARIO),
    seed: number('--seed', given.seed ?? '1', { low: 0, high: Number.MAX_SAFE_INTEGER, whole: true }),
    pace: given.pace === 'max' ? 'max' : number('--pace', given.pace ?? '1', { low: 0.01, high: 10_000, or: 'max' }),
    rateHz: number('--rate', given.rate ?? '50', { low: 0.1, high: 200 }),
    shape,
    checksum: given.checksum === true || (given['no-checksum'] !== true && shape === 'named'),
    axes: oneOf('--axes', given.axes ?? '1', ['1', '2']) === '2' ? 2 : 1,
    also: given.also === undefined ? [] : names(given.also),
    gaugeToWinderMm: number('--path', given.path ?? '1200', { low: 0, high: 20_000 }),
    durationS: given.duration === undefined ? null : number('--duration', given.duration, { low: 0.005, high: 1e8 }),
    target: parseTarget(given.to ?? 'stdout'),
    truthFile: given.truth ?? null,
  };
}

function parse(args: readonly string[]) {
  try {
    return parseArgs({
      args: [...args],
      strict: true,
      allowPositionals: false,
      options: {
        scenario: { type: 'string' },
        seed: { type: 'string' },
        pace: { type: 'string' },
        rate: { type: 'string' },
        shape: { type: 'string' },
        checksum: { type: 'boolean' },
        'no-checksum': { type: 'boolean' },
        axes: { type: 'string' },
        also: { type: 'string' },
        path: { type: 'string' },
        duration: { type: 'string' },
        to: { type: 'string' },
        truth: { type: 'string' },
        list: { type: 'boolean' },
        help: { type: 'boolean' },
      },
    }).values;
  } catch (error) {
    // Its first sentence names the argument; what follows is advice that does not fit here.
    const message = error instanceof Error ? error.message : String(error);
    const reason = message.split(/\.\s|\n/)[0]!.replace(/\.$/, '');
    throw new SimulatorInputError(`${reason}. --help shows all options.`);
  }
}

function oneOf<T extends string>(option: string, value: string, known: readonly T[]): T {
  const found = known.find((each) => each === value);
  if (found !== undefined) return found;
  throw new SimulatorInputError(`${option} ${value} is unknown; give one of ${known.join(', ')}.`);
}

function names(text: string): string[] {
  return text
    .split(',')
    .map((name) => name.trim())
    .filter((name) => name !== '');
}

function number(
  option: string,
  text: string,
  range: { readonly low: number; readonly high: number; readonly whole?: boolean; readonly or?: string },
): number {
  const value = text.trim() === '' ? Number.NaN : Number(text);
  const fits = value >= range.low && value <= range.high && (range.whole !== true || Number.isInteger(value));
  if (fits) return value;
  const kind = range.whole === true ? 'whole number' : 'number';
  const other = range.or === undefined ? '' : `, or ${range.or}`;
  throw new SimulatorInputError(
    `${option} ${text} does not do; give a ${kind} from ${range.low} to ${range.high}${other}.`,
  );
}

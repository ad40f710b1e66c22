/** The arguments of the command. */

import { parseArgs } from 'node:util';
import { LINE_SHAPES, type LineShape } from '../device/line-format.ts';
import { DEFAULT_SCENARIO, findScenario } from '../scenarios/index.ts';
import type { Scenario } from '../scenarios/scenario.ts';
import { SimulatorInputError } from '../simulator-input-error.ts';
import { notValid, parseTarget, type Target } from './target.ts';

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
  /** null = no end. */
  readonly durationS: number | null;
  readonly target: Target;
  readonly truthFile: string | null;
}

export type Command = { readonly do: 'help' } | { readonly do: 'list' } | ({ readonly do: 'run' } & RunOptions);

export const HELP = `Simulates a filament extrusion line and sends its reading lines.

  strandward simulate [options]

  --scenario NAME    what happens on the line (default ${DEFAULT_SCENARIO}; see --list)
  --seed N           a whole number; another one is another evening of the same kind (default 1)
  --pace X           1 = real time (default), 20 = twenty times as fast, max = as fast as possible
  --rate HZ          reading lines per second, up to 200 (default 50)
  --shape SHAPE      ${LINE_SHAPES.join(', ')} (default named)
  --checksum, --no-checksum
                     whether lines end in a checksum (default: named yes, the others no)
  --axes N           1 = one diameter (default), 2 = a gauge with two axes
  --also NAMES       additional fields in each line, such as turns,amp,bar,ta,rh
  --path MM          strand between gauge and winder (default 1200)
  --duration S       end after this many simulated seconds (default: no end)
  --to WHERE         stdout (default), tcp:PORT or tcp:HOST:PORT (listens, by default on loopback),
                     pty:LINK (a pseudo-terminal with a link to it; needs socat)
  --truth FILE       write what really happened, one JSON object per line
  --list             list the scenarios
  --help             show this help
`;

/** @throws SimulatorInputError that names the argument and what to do */
export function parseOptions(args: readonly string[]): Command {
  const values = parse(args);
  if (values.help === true) return { do: 'help' };
  if (values.list === true) return { do: 'list' };
  const shape = oneOf('--shape', values.shape ?? 'named', LINE_SHAPES);
  if (values.checksum === true && values['no-checksum'] === true) {
    throw new SimulatorInputError('--checksum and --no-checksum exclude each other.', 'Use one of them.');
  }
  return {
    do: 'run',
    scenario: findScenario(values.scenario ?? DEFAULT_SCENARIO),
    seed: number('--seed', values.seed ?? '1', { low: 0, high: Number.MAX_SAFE_INTEGER, whole: true }),
    pace: values.pace === 'max' ? 'max' : number('--pace', values.pace ?? '1', { low: 0.01, high: 10_000, or: 'max' }),
    rateHz: number('--rate', values.rate ?? '50', { low: 0.1, high: 200 }),
    shape,
    checksum: values.checksum === true || (values['no-checksum'] !== true && shape === 'named'),
    axes: oneOf('--axes', values.axes ?? '1', ['1', '2']) === '2' ? 2 : 1,
    also: values.also === undefined ? [] : names(values.also),
    gaugeToWinderMm: number('--path', values.path ?? '1200', { low: 0, high: 20_000 }),
    durationS: values.duration === undefined ? null : number('--duration', values.duration, { low: 0.005, high: 1e8 }),
    target: parseTarget(values.to ?? 'stdout'),
    truthFile: values.truth ?? null,
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
    throw new SimulatorInputError(whatIsWrong(String(error)), 'See --help for all options.');
  }
}

/** In our words: Node’s own are for programmers. */
function whatIsWrong(message: string): string {
  const argument = /'([^' ]*)/.exec(message)?.[1] ?? '';
  if (message.includes('Unknown option')) return `Unknown option “${argument}”.`;
  if (message.includes('Unexpected argument')) return `Unexpected argument “${argument}”.`;
  return message.includes('not take an argument') ? `${argument} takes no value.` : `${argument} needs a value.`;
}

function oneOf<T extends string>(option: string, value: string, known: readonly T[]): T {
  const found = known.find((each) => each === value);
  if (found !== undefined) return found;
  throw new SimulatorInputError(notValid(option, value), `Choose one of ${known.join(', ')}.`);
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
  throw new SimulatorInputError(notValid(option, text), `Choose a ${kind} from ${range.low} to ${range.high}${other}.`);
}

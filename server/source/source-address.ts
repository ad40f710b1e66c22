import { Problem } from '../problem/problem.ts';
import { NO_SOURCE } from '../settings/line-settings.ts';

/** Speed of a recording or simulation: 1 = real time, 20 = twenty times as fast, 'max' = as fast as possible. */
export type Pace = number | 'max';

export type SourceAddress =
  | {
      readonly kind: 'simulator';
      readonly scenario: string;
      readonly seed: number;
      readonly pace: Pace;
      readonly rateHz: number;
      /** Additional fields in each line. */
      readonly also: readonly string[];
    }
  | { readonly kind: 'none' }
  | { readonly kind: 'serial'; readonly path: string; readonly baud: number }
  | { readonly kind: 'tcp'; readonly host: string; readonly port: number }
  | {
      readonly kind: 'file';
      readonly path: string;
      readonly pace: Pace;
      /** Start of the recording, UTC ms; null = now. */
      readonly startMs: number | null;
      /** Lines per second if they have no clock; null = 50. */
      readonly rateHz: number | null;
    };

const FORMS =
  'simulator:SCENARIO?seed=1&pace=1&rate=50&also=turns, serial:PATH?baud=115200, tcp:HOST:PORT or file:PATH?pace=1';
const DEFAULT_SCENARIO = 'evening';

/**
 * Parse the address of a source: one of the four forms, a bare `/dev/…` or `COM3` (serial), `none`, or nothing (the simulator).
 * Options follow the last `?`.
 * @throws Problem `bad-setting`: the address is wrong
 */
export function parseSourceAddress(text: string): SourceAddress {
  const address = text.trim();
  if (address === '') return simulator('', new Options(''));
  // The system refuses paths and hosts with such characters as if the program were at fault.
  if (/\p{Cc}/u.test(address))
    throw wrong('The address contains a control character.', `Remove it, or write ${FORMS}.`);
  if (address === NO_SOURCE) return { kind: 'none' };
  if (/^\/dev\//.test(address) || /^COM\d+(?:\?|$)/i.test(address)) return parseSourceAddress(`serial:${address}`);
  const [, scheme, rest] = /^([a-z]+):(.*)$/is.exec(address) ?? [];
  if (scheme === undefined || rest === undefined) {
    throw wrong(`“${address}” is not the address of a source.`, `Write ${FORMS}.`);
  }
  const mark = rest.lastIndexOf('?');
  const target = mark < 0 ? rest : rest.slice(0, mark);
  const options = new Options(mark < 0 ? '' : rest.slice(mark + 1));
  switch (scheme.toLowerCase()) {
    case 'simulator':
      return simulator(target, options);
    case 'serial':
      return serial(target, options);
    case 'tcp':
      return tcp(target, options);
    case 'file':
      return file(target, options);
    default:
      throw wrong(`“${scheme}” is not a kind of source.`, `Write ${FORMS}.`);
  }
}

function simulator(target: string, options: Options): SourceAddress {
  options.allow('simulator', ['seed', 'pace', 'rate', 'also']);
  return {
    kind: 'simulator',
    scenario: target === '' ? DEFAULT_SCENARIO : target,
    seed: options.number('seed', 1, 0, Number.MAX_SAFE_INTEGER, true),
    pace: options.pace(),
    rateHz: options.number('rate', 50, 0.1, 200, false),
    also: options.names('also'),
  };
}

function serial(path: string, options: Options): SourceAddress {
  options.allow('serial', ['baud']);
  if (path === '') {
    throw wrong('The serial address has no port.', 'Write serial:PATH, for example serial:/dev/ttyUSB0.');
  }
  return { kind: 'serial', path, baud: options.number('baud', 115_200, 50, 4_000_000, true) };
}

function tcp(target: string, options: Options): SourceAddress {
  options.allow('tcp', []);
  const [, bracketed, plain, port] = /^(?:\[([^\]]+)\]|([^:]+)):(\d{1,5})$/.exec(target) ?? [];
  const host = bracketed ?? plain;
  if (host === undefined || !(Number(port) >= 1 && Number(port) <= 65_535)) {
    throw wrong(
      `“${target}” is not a host and port.`,
      'Write tcp:HOST:PORT with a port from 1 to 65535, for example tcp:192.168.1.40:8023 or tcp:[fd00::40]:8023.',
    );
  }
  return { kind: 'tcp', host, port: Number(port) };
}

function file(path: string, options: Options): SourceAddress {
  options.allow('file', ['pace', 'rate', 'start']);
  if (path === '')
    throw wrong('The file address has no path.', 'Write file:PATH, for example file:night.log?pace=max.');
  return {
    kind: 'file',
    path,
    pace: options.pace(),
    startMs: options.time('start'),
    rateHz: options.optionalNumber('rate', 0.1, 1000),
  };
}

/** The options after the `?` of an address. */
class Options {
  readonly #params: URLSearchParams;

  constructor(text: string) {
    this.#params = new URLSearchParams(text);
  }

  allow(kind: string, known: readonly string[]): void {
    const names = [...this.#params.keys()];
    const unknown = names.find((name) => !known.includes(name));
    if (unknown !== undefined) {
      const remedy = known.length === 0 ? 'It has no options. Remove it.' : `Use ${known.join(', ')}.`;
      throw wrong(`A ${kind} address has no option “${unknown}”.`, remedy);
    }
    const duplicate = names.find((name, i) => names.indexOf(name) !== i);
    if (duplicate !== undefined) throw wrong(`The option “${duplicate}” is given twice.`, 'Give it once.');
  }

  number(name: string, fallback: number, low: number, high: number, whole: boolean): number {
    const text = this.#params.get(name);
    if (text === null) return fallback;
    const value = /^\d+(?:\.\d+)?$/.test(text) ? Number(text) : Number.NaN;
    if (value >= low && value <= high && (!whole || Number.isInteger(value))) return value;
    throw wrong(
      `“${text}” is not a valid ${name}.`,
      `Set ${name} to a ${whole ? 'whole number' : 'number'} from ${low} to ${high}.`,
    );
  }

  optionalNumber(name: string, low: number, high: number): number | null {
    return this.#params.has(name) ? this.number(name, Number.NaN, low, high, false) : null;
  }

  /** A time in ISO 8601, in this machine's time zone unless it names one. @returns UTC ms; null = missing */
  time(name: string): number | null {
    const text = this.#params.get(name);
    if (text === null) return null;
    const timeMs = /^\d{4}-\d\d-\d\dT\d\d:\d\d/.test(text) ? Date.parse(text) : Number.NaN;
    if (!Number.isNaN(timeMs)) return timeMs;
    throw wrong(`“${text}” is not a valid ${name}.`, `Set ${name} to a date and time such as 2026-11-24T20:15.`);
  }

  names(name: string): string[] {
    const text = this.#params.get(name) ?? '';
    return text.split(',').filter((one) => one !== '');
  }

  pace(): Pace {
    if (this.#params.get('pace') === 'max') return 'max';
    try {
      return this.number('pace', 1, 0.01, 10_000, false);
    } catch (thrown) {
      if (!(thrown instanceof Problem)) throw thrown;
      throw wrong(thrown.message, `${thrown.remedy.replace(/\.$/, '')}, or max.`);
    }
  }
}

function wrong(message: string, remedy: string): Problem {
  return new Problem('bad-setting', message, remedy);
}

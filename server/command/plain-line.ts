/** An entry that the logger writes as JSON. */
export interface LogEntry {
  readonly time: string;
  readonly level: number;
  readonly msg?: string;
  readonly [fact: string]: unknown;
}

const LEVELS: Readonly<Record<number, string>> = { 10: 'trace', 20: 'debug', 40: 'WARNING', 50: 'ERROR', 60: 'FATAL' };
const FACTS_MAX = 4;
const FACT_LENGTH_MAX = 80;

/**
 * A log entry as readable text: local time, the level unless it is info, the message and a few facts. The stack of an error
 * follows on separate lines.
 */
export function plainLine({ time, level, msg = '', err, ...facts }: LogEntry): string {
  const prefix = LEVELS[level] === undefined ? '' : `${LEVELS[level]}: `;
  const few = Object.entries(facts)
    .slice(0, FACTS_MAX)
    .map(([name, value]) => `${name}=${shortened(typeof value === 'string' ? value : JSON.stringify(value))}`);
  const line = visible([`${localTime(time)}  ${prefix}${msg}`, ...few].join('  '));
  const stack = stackOf(err);
  return stack === null ? line : [line, ...stack.split('\n').map(visible)].join('\n');
}

function localTime(iso: string): string {
  const date = new Date(iso);
  const two = (part: number) => String(part).padStart(2, '0');
  const day = [date.getFullYear(), two(date.getMonth() + 1), two(date.getDate())].join('-');
  return `${day} ${[date.getHours(), date.getMinutes(), date.getSeconds()].map(two).join(':')}`;
}

function shortened(text: string): string {
  return text.length <= FACT_LENGTH_MAX ? text : `${text.slice(0, FACT_LENGTH_MAX)}…`;
}

function stackOf(err: unknown): string | null {
  if (typeof err !== 'object' || err === null) return null;
  const { stack, message } = err as { readonly stack?: unknown; readonly message?: unknown };
  return typeof stack === 'string' ? stack : String(message);
}

/** Replaces control characters: text from the cable may contain them, and a terminal would obey them. */
function visible(text: string): string {
  return text.replace(/\p{Cc}/gu, '·');
}

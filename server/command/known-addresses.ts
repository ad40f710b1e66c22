import dns from 'node:dns';

// RFC 8767 (Serving Stale Data to Improve DNS Resiliency), section 5, recommends these times.
const ANSWERS_WITHIN_MS = 1800;
const KNOWN_FOR_MS = 3 * 24 * 60 * 60_000;
const NAMES_MAX = 100;

type Answer = (error: Error | null, ...found: unknown[]) => void;
/** As `dns.lookup`: the arguments end with a function that gets the error or what was found. */
type Lookup = (...args: [...question: unknown[], answer: Answer]) => void;

interface Name {
  readonly waiting: Set<Answer>;
  isAsked: boolean;
  found: readonly unknown[] | null;
  foundMs: number;
}

/**
 * Every connection of this process by name uses the address known last if the name server does not answer. Node asks for two names
 * at a time, and a name that is not answered takes ten seconds: without internet, a broker at home would wait for all names on it.
 */
export function rememberAddresses(): void {
  dns.lookup = remembering(dns.lookup as unknown as Lookup, () => performance.now()) as unknown as typeof dns.lookup;
}

/**
 * Asks once at a time for each name, and gives the address known last if no answer comes soon, or an error. That there is no such
 * name is an answer.
 * @param clock ms; any origin, never stepping back
 */
export function remembering(lookup: Lookup, clock: () => number): Lookup {
  const names = new Map<string, Name>();
  const ask = (name: Name, question: unknown[]) => {
    lookup(...question, (error, ...found) => {
      name.isAsked = false;
      if (error === null) Object.assign(name, { found, foundMs: clock() });
      for (const answer of [...name.waiting]) answer(error, ...found);
    });
    name.isAsked = true;
  };
  return (...args) => {
    const question = args.slice(0, -1);
    const answer = args.at(-1) as Answer;
    const key = JSON.stringify(question);
    const name = names.get(key) ?? { waiting: new Set(), isAsked: false, found: null, foundMs: 0 };
    if (!name.isAsked) ask(name, question);
    names.delete(key);
    names.set(key, name);
    for (const [oldest, { isAsked }] of names) if (names.size > NAMES_MAX && !isAsked) names.delete(oldest);
    const known = clock() - name.foundMs < KNOWN_FOR_MS ? name.found : null;
    let timer: NodeJS.Timeout | undefined;
    const answerOnce: Answer = (error, ...found) => {
      clearTimeout(timer);
      name.waiting.delete(answerOnce);
      if (error !== null && known !== null && !isNoSuchName(error)) answer(null, ...known);
      else answer(error, ...found);
    };
    name.waiting.add(answerOnce);
    if (known !== null) timer = setTimeout(() => answerOnce(null, ...known), ANSWERS_WITHIN_MS);
  };
}

const isNoSuchName = (error: Error): boolean => 'code' in error && error.code === 'ENOTFOUND';

import { rootCertificates } from 'node:tls';
import { Problem, problemOfReply } from '../problem/problem.ts';
import { LineFeed, type LineFeedParts } from './line-feed.ts';
import { type LineRequest, requestLine } from './line-request.ts';
import { checkedLine, OTHER_LINES_MAX, type OtherLine, type OtherLineInput, type StoredLines } from './other-line.ts';

export interface OtherLinesParts {
  /** As saved, tokens included, by `readOtherLines`; null = never saved, or it cannot be read. */
  load(): StoredLines | null;
  save(json: string): void;
  readonly readFrame: LineFeedParts['readFrame'];
  /** Certificate of the authority of this house (PEM); null = none. */
  authority(): string | null;
  recordAction(who: string, what: string): void;
}

const ACKNOWLEDGE_WITHIN_MS = 5000;
/** The first time after a start, a line looks at all its nights. */
const ANSWER_WITHIN_MS = 30_000;
/** Of what a stranger writes. */
const SENTENCE_MAX = 300;
const OPEN_ITS_PAGE = 'Open its own page.';

/** The other lines that this one shows: which they are, their feeds, and answers to their alarms. */
export class OtherLines {
  readonly #parts: OtherLinesParts;
  readonly #listeners = new Set<() => void>();
  #feeds: readonly LineFeed[] = [];
  #lastId = 0;

  constructor(parts: OtherLinesParts) {
    this.#parts = parts;
  }

  start(): void {
    const { lastId, lines } = this.#parts.load() ?? { lastId: 0, lines: [] };
    this.#lastId = lastId;
    this.#feeds = lines.map((line) => this.#started(line));
  }

  stop(): void {
    for (const feed of this.#feeds) feed.stop();
  }

  feeds(): readonly LineFeed[] {
    return this.#feeds;
  }

  /** Calls the listener when something urgent changed. */
  onChange(listener: () => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** @throws Problem `bad-setting` */
  add(entered: OtherLineInput, who: string): LineFeed {
    if (this.#feeds.length >= OTHER_LINES_MAX)
      throw new Problem('bad-setting', `There are ${OTHER_LINES_MAX} other lines already.`, 'Remove one first.');
    const line = checkedLine(entered, null, this.#lastId + 1);
    this.#refuseTwice(line);
    this.#keep([...this.#lines, line], who, `Added the line at ${line.address} to the page Lines.`);
    return this.#find(line.id);
  }

  /** @throws Problem `bad-setting`, `unknown-line` */
  change(id: number, entered: OtherLineInput, who: string): LineFeed {
    const old = this.#find(id);
    const line = checkedLine(entered, old.line, id);
    this.#refuseTwice(line);
    const lines = this.#lines.map((one) => (one === old.line ? line : one));
    this.#keep(lines, who, `Changed the line at ${line.address} on the page Lines.`);
    return this.#find(id);
  }

  /** @throws Problem `unknown-line` */
  remove(id: number, who: string): void {
    const { line } = this.#find(id);
    const lines = this.#lines.filter((one) => one !== line);
    this.#keep(lines, who, `Removed the line at ${line.address} from the page Lines.`);
  }

  /**
   * Acknowledges an alarm of another line.
   * @throws Problem `unknown-line`, `line-failed`
   */
  async acknowledge(id: number, alarmId: number, who: string): Promise<void> {
    const { address, actToken } = this.#find(id).line;
    const { host } = new URL(address);
    if (actToken === '') {
      throw new Problem(
        'line-failed',
        'This line may only be watched from here.',
        'Open its own page, or enter a token with the right to act under Set-up → Other lines.',
      );
    }
    const { status } = await requestLine({
      method: 'POST',
      url: new URL(`/api/alarms/${alarmId}/acknowledge`, address),
      token: actToken,
      who,
      withinMs: ACKNOWLEDGE_WITHIN_MS,
      instead: 'Acknowledge the alarm on its own page.',
      authorities: this.#authorities(),
    });
    if (status === 200) return;
    throw new Problem(
      'line-failed',
      status === 404 ? 'That alarm is gone.' : refused(host, status),
      status === 404 ? 'Nothing is left to do.' : 'Acknowledge it on its own page.',
    );
  }

  /**
   * What another line answers to a question, as JSON text.
   * @param path of its API, with the query
   * @throws as `tell`
   */
  ask(id: number, path: string): Promise<string> {
    return this.tell(id, { method: 'GET', path, token: this.#find(id).line.watchToken, who: null });
  }

  /**
   * Has another line do something.
   * @param told `path` of its API; `token` with the right to it
   * @returns its answer, as JSON text
   * @throws Problem `unknown-line`; `line-failed` if it cannot be asked; its own one if it refuses what was asked
   */
  async tell(
    id: number,
    { path, ...told }: Pick<LineRequest, 'method' | 'token' | 'body' | 'who'> & { readonly path: string },
  ): Promise<string> {
    const { address } = this.#find(id).line;
    const { status, text } = await requestLine({
      ...told,
      url: new URL(path, address),
      withinMs: ANSWER_WITHIN_MS,
      instead: OPEN_ITS_PAGE,
      authorities: this.#authorities(),
    });
    if (status >= 200 && status < 300) return text;
    throw refusal(new URL(address).host, status, text);
  }

  #started(line: OtherLine): LineFeed {
    const feed = new LineFeed(line, {
      nowMs: () => performance.now(),
      readFrame: this.#parts.readFrame,
      authorities: () => this.#authorities(),
      changed: () => this.#changed(),
    });
    feed.start();
    return feed;
  }

  #authorities(): string[] | undefined {
    const ours = this.#parts.authority();
    return ours === null ? undefined : [...rootCertificates, ours];
  }

  get #lines(): readonly OtherLine[] {
    return this.#feeds.map(({ line }) => line);
  }

  /** Nothing changes if they cannot be saved. */
  #keep(lines: readonly OtherLine[], who: string, what: string): void {
    const lastId = Math.max(this.#lastId, ...lines.map(({ id }) => id));
    this.#parts.save(JSON.stringify({ lastId, lines } satisfies StoredLines));
    this.#lastId = lastId;
    const before = this.#feeds;
    this.#feeds = lines.map((line) => before.find((feed) => feed.line === line) ?? this.#started(line));
    for (const feed of before) if (!this.#feeds.includes(feed)) feed.stop();
    this.#parts.recordAction(who, what);
    this.#changed();
  }

  #changed(): void {
    for (const listener of this.#listeners) listener();
  }

  #find(id: number): LineFeed {
    const feed = this.#feeds.find(({ line }) => line.id === id);
    if (feed === undefined)
      throw new Problem('unknown-line', `There is no other line ${id}.`, 'Load the other lines again.');
    return feed;
  }

  #refuseTwice({ id, address }: OtherLine): void {
    if (!this.#feeds.some(({ line }) => line.address === address && line.id !== id)) return;
    throw new Problem(
      'bad-setting',
      'A line with this address is shown already.',
      'Give the address of another line.',
      {
        pointer: '/address',
      },
    );
  }
}

function refusal(host: string, status: number, text: string): Problem {
  const said = status >= 400 && status < 500 ? problemOfReply(parsed(text)) : null;
  if (said?.code === 'not-found')
    return new Problem(
      'line-failed',
      `${host} runs another version of Strandward.`,
      'Install the same version on both machines.',
    );
  if (said === null || NOT_ABOUT_THE_QUESTION.has(said.httpStatus))
    return new Problem('line-failed', refused(host, status), OPEN_ITS_PAGE);
  return new Problem(said.code, said.message.slice(0, SENTENCE_MAX), said.remedy.slice(0, SENTENCE_MAX));
}

/** Too little access, or too many requests. */
const NOT_ABOUT_THE_QUESTION: ReadonlySet<number> = new Set([401, 403, 429]);

function parsed(text: string): unknown {
  try {
    return JSON.parse(text);
  } catch {
    return null;
  }
}

function refused(host: string, status: number): string {
  return status === 401 || status === 403 ? `${host} refuses the token.` : `${host} answered with status ${status}.`;
}

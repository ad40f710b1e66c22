import type { BinnedView } from '../api/contract/bin.ts';
import type { HouseView } from '../api/contract/labels.ts';
import type { LiveState } from '../api/contract/live-state.ts';
import type { RunDetail, RunView } from '../api/contract/runs-and-spools.ts';
import { messageOf, Problem, problemOfReply } from '../problem/problem.ts';

const ANSWERS_WITHIN_MS = 120_000;
/** A night of readings over a slow network. */
const SENDS_WITHIN_MS = 3_600_000;

/** A service that watches a line, as a program sees it that may watch. */
export class LineService {
  readonly address: string;
  readonly #token: string | null;

  /** @throws Problem `bad-setting` if the address is none */
  constructor(address: string, token: string | null) {
    if (!/^https?:\/\/[^/]/.test(address) || !URL.canParse(address))
      throw new Problem('bad-setting', `“${address}” is not an address.`, 'Give one such as http://127.0.0.1:8750.');
    this.address = new URL(address).origin;
    this.#token = token;
  }

  state(): Promise<Pick<LiveState, 'lineName'>> {
    return this.#json('/api/state');
  }

  house(): Promise<Pick<HouseView, 'code'>> {
    return this.#json('/api/house');
  }

  runs(): Promise<readonly RunView[]> {
    return this.#json('/api/runs');
  }

  binned(): Promise<readonly BinnedView[]> {
    return this.#json('/api/bin');
  }

  run(id: number): Promise<RunDetail> {
    return this.#json(`/api/runs/${id}`);
  }

  /** All readings of a run as Parquet. @throws Problem `readings-thinned` if they were deleted */
  async readings(id: number): Promise<AsyncIterable<Uint8Array>> {
    const { body } = await this.#ask(`/api/runs/${id}/export?format=parquet`, SENDS_WITHIN_MS);
    if (body === null) throw this.#failed('it sent no readings');
    // From now on the body is in use. Otherwise it would be given up once the answer that it belongs to is garbage.
    return body.values();
  }

  async #json<T>(path: string): Promise<T> {
    const answer = await this.#ask(path);
    try {
      return (await answer.json()) as T;
    } catch (thrown) {
      throw this.#failed(messageOf(thrown));
    }
  }

  async #ask(path: string, withinMs = ANSWERS_WITHIN_MS): Promise<Response> {
    const headers: Record<string, string> = this.#token === null ? {} : { authorization: `Bearer ${this.#token}` };
    const signal = AbortSignal.timeout(withinMs);
    const answer = await fetch(this.address + path, { headers, signal }).catch((thrown: unknown) => {
      throw this.#failed(messageOf((thrown as { cause?: unknown }).cause ?? thrown));
    });
    if (answer.ok) return answer;
    const problem = problemOfReply(await answer.json().catch(() => null));
    throw problem ?? this.#failed(`it answered ${answer.status} to ${path}`);
  }

  #failed(why: string): Problem {
    return new Problem(
      'line-failed',
      `${this.address} does not answer as a Strandward service: ${why}.`,
      'Check that the service is running and that --address is the one of its page, then try again.',
    );
  }
}

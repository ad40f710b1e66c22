import type { EscalationRules } from '../escalation/escalation-rules.ts';
import type { HeartbeatState } from '../escalation/people-service.ts';
import type { Clock } from '../monitor/clock.ts';
import { askFollowing, isSuccess } from './ask.ts';
import { asNetworkFailure } from './network-errors.ts';
import { timeLimit } from './time-limit.ts';

const ANSWER_WITHIN_MS = 10_000;

/**
 * A GET to an outside service at fixed intervals. If it stops, that service raises the alarm: a monitor that is down
 * cannot report its own failure.
 */
export class Heartbeat {
  readonly #rules: () => EscalationRules;
  readonly #clock: Clock;
  readonly #abort = new AbortController();
  #nextMs = 0;
  #beating: Promise<void> | null = null;
  #state: HeartbeatState = { lastOkMs: null, text: '' };

  constructor(rules: () => EscalationRules, clock: Clock) {
    this.#rules = rules;
    this.#clock = clock;
  }

  /** null = no address is set. */
  get state(): HeartbeatState | null {
    return this.#rules().heartbeatAddress === '' ? null : this.#state;
  }

  /** To be called once a second. */
  tick(): void {
    const { heartbeatAddress, heartbeatEveryS } = this.#rules();
    const nowMs = this.#clock();
    const waitMs = this.#nextMs - nowMs;
    // A longer wait than the period means that the clock was set back.
    const isDue = waitMs <= 0 || waitMs > heartbeatEveryS * 1000;
    if (heartbeatAddress === '' || !isDue || this.#beating !== null) return;
    this.#nextMs = nowMs + heartbeatEveryS * 1000;
    this.#beating = this.#beat(heartbeatAddress).finally(() => {
      this.#beating = null;
    });
  }

  /** The address was changed: beat at once. */
  addressChanged(): void {
    this.#nextMs = 0;
    this.#state = { lastOkMs: null, text: '' };
  }

  async stop(): Promise<void> {
    this.#abort.abort();
    await this.#beating;
  }

  async #beat(address: string): Promise<void> {
    const url = new URL(address);
    const { host } = url;
    const { signal, end } = timeLimit(ANSWER_WITHIN_MS, this.#abort.signal);
    try {
      const answer = await askFollowing(url, { method: 'GET', headers: { 'user-agent': 'Strandward' }, signal });
      this.#state = isSuccess(answer)
        ? { lastOkMs: this.#clock(), text: '' }
        : { ...this.#state, text: `${host} answered the heartbeat with status ${answer.status}.` };
    } catch (thrown) {
      if (this.#abort.signal.aborted) return;
      this.#state = { ...this.#state, text: asNetworkFailure(thrown, host, signal).message };
    } finally {
      end();
    }
  }
}

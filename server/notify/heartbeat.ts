import type { EscalationRules } from '../escalation/escalation-rules.ts';
import type { HeartbeatState } from '../escalation/people-service.ts';
import type { Clock } from '../monitor/clock.ts';
import { asNetworkFailure } from './network-errors.ts';

const ANSWER_WITHIN_MS = 10_000;

/**
 * A GET to somebody outside, again and again. When it stays away, they know that nobody watches here: the one fault that
 * this service cannot tell itself.
 */
export class Heartbeat {
  readonly #rules: () => EscalationRules;
  readonly #clock: Clock;
  readonly #abort = new AbortController();
  #nextMs = 0;
  #underway: Promise<void> | null = null;
  #state: HeartbeatState = { lastOkMs: null, text: '' };

  constructor(rules: () => EscalationRules, clock: Clock) {
    this.#rules = rules;
    this.#clock = clock;
  }

  /** null = none is set. */
  get state(): HeartbeatState | null {
    return this.#rules().heartbeatAddress === '' ? null : this.#state;
  }

  /** To be called once a second. */
  tick(): void {
    const { heartbeatAddress, heartbeatEveryS } = this.#rules();
    const nowMs = this.#clock();
    if (heartbeatAddress === '' || nowMs < this.#nextMs || this.#underway !== null) return;
    this.#nextMs = nowMs + heartbeatEveryS * 1000;
    this.#underway = this.#beat(heartbeatAddress).finally(() => {
      this.#underway = null;
    });
  }

  /** Other rules: beat at once. */
  changed(): void {
    this.#nextMs = 0;
    this.#state = { lastOkMs: null, text: '' };
  }

  async stop(): Promise<void> {
    this.#abort.abort();
    await this.#underway;
  }

  async #beat(address: string): Promise<void> {
    const { host } = new URL(address);
    const signal = AbortSignal.any([this.#abort.signal, AbortSignal.timeout(ANSWER_WITHIN_MS)]);
    try {
      const response = await fetch(address, { signal, redirect: 'follow', headers: { 'user-agent': 'Strandward' } });
      await response.body?.cancel();
      this.#state = response.ok
        ? { lastOkMs: this.#clock(), text: '' }
        : { ...this.#state, text: `${host} answered the heartbeat with status ${response.status}.` };
    } catch (thrown) {
      if (this.#abort.signal.aborted) return;
      this.#state = { ...this.#state, text: asNetworkFailure(thrown, host, signal).message };
    }
  }
}

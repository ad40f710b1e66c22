import { timingSafeEqual } from 'node:crypto';
import type { Right } from '../entities/device.ts';
import { digestOf, newCode } from './secret.ts';

const VALID_MS = 10 * 60_000;
/** The oldest is dropped, so that a program in a loop does not fill memory. */
const OPEN_MAX = 20;

export interface Invitation {
  readonly code: string;
  readonly right: Right;
  readonly validMs: number;
}

interface Open {
  readonly digest: Buffer;
  readonly right: Right;
  readonly by: string;
  readonly untilMs: number;
}

/** Codes that pair one device each. They are kept in memory only: a restart makes them invalid. */
export class Invitations {
  readonly #clock: () => number;
  #open: readonly Open[] = [];

  /** @param clock ms; any origin, never stepping back */
  constructor(clock: () => number) {
    this.#clock = clock;
  }

  issue(right: Right, by: string): Invitation {
    const code = newCode();
    const added = { digest: digestOf(code), right, by, untilMs: this.#clock() + VALID_MS };
    this.#open = [...this.#valid(), added].slice(-OPEN_MAX);
    return { code, right, validMs: VALID_MS };
  }

  /** What the code gives; null = wrong, used or expired. */
  find(code: string): { readonly right: Right; readonly by: string } | null {
    const digest = digestOf(code);
    return this.#valid().find((one) => timingSafeEqual(one.digest, digest)) ?? null;
  }

  /** Each code pairs one device. */
  use(code: string): void {
    const digest = digestOf(code);
    this.#open = this.#open.filter((one) => !timingSafeEqual(one.digest, digest));
  }

  #valid(): readonly Open[] {
    const nowMs = this.#clock();
    return this.#open.filter(({ untilMs }) => untilMs > nowMs);
  }
}

import type { Source } from '../../source/source.ts';

/** The baud rate of the source, for users. */
export interface BaudRate {
  /** As set. */
  readonly current: number;
  /** At which a sketch's lines would arrive; null = not looked for, or none. */
  readonly found: number | null;
  /** Being tried now; null = none. */
  readonly trying: number | null;
}

/** Time without a reading after which the rate is looked for, s. */
const NEW_LINE_AFTER_S = 5;
/** A line that could be read before is more likely disturbed than set to another rate. */
const KNOWN_LINE_AFTER_S = 30;
/** Until it is looked for again, if none was found. */
const AGAIN_AFTER_MS = 60_000;

export interface WhatArrives {
  /** Bytes arrive, but they are no text. */
  readonly isNoText: boolean;
  /** Since the last reading, or since the start, s. */
  readonly quietForS: number;
  readonly hadReadings: boolean;
}

/** Has the source look for the baud rate while what arrives is no text. */
export class RateWatch {
  readonly #source: Pick<Source, 'baudRate' | 'findRate'>;
  readonly #clock: () => number;
  readonly #report: (found: number) => void;
  #found: number | null = null;
  #trying: number | null = null;
  #isSearching = false;
  #searchedMs = Number.NEGATIVE_INFINITY;

  /** @param report called with a rate that was found */
  constructor(source: Pick<Source, 'baudRate' | 'findRate'>, clock: () => number, report: (found: number) => void) {
    this.#source = source;
    this.#clock = clock;
    this.#report = report;
  }

  /** null = the source has none. */
  get state(): BaudRate | null {
    const { baudRate } = this.#source;
    return baudRate === undefined ? null : { current: baudRate, found: this.#found, trying: this.#trying };
  }

  /** Another rate is being tried, or was found and is not used yet. */
  get isWrong(): boolean {
    return this.#isSearching || this.#found !== null;
  }

  /** Call about once a second. */
  check({ isNoText, quietForS, hadReadings }: WhatArrives): void {
    const { findRate } = this.#source;
    if (findRate === undefined || !isNoText || this.isWrong) return;
    if (quietForS < (hadReadings ? KNOWN_LINE_AFTER_S : NEW_LINE_AFTER_S)) return;
    if (this.#clock() - this.#searchedMs < AGAIN_AFTER_MS) return;
    void this.#search();
  }

  /** Call when a reading arrives, which shows that the set rate is right, or when another sketch may run. */
  forget(): void {
    this.#found = null;
  }

  async #search(): Promise<void> {
    this.#isSearching = true;
    try {
      const found =
        (await this.#source.findRate?.((baud) => {
          this.#trying = baud;
        })) ?? null;
      this.#found = found;
      if (found !== null) this.#report(found);
    } finally {
      this.#isSearching = false;
      this.#trying = null;
      this.#searchedMs = this.#clock();
    }
  }
}

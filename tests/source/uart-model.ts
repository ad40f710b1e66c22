/**
 * A made-up model of a UART, not a real port: 8 data bits, no parity, one stop bit, each bit sampled in its middle, and
 * bytes with a wrong stop bit passed on like any other.
 */

/** Bytes that are sent one after the other from a time on, s; later if those before take longer. */
export interface Burst {
  readonly atS: number;
  readonly bytes: Uint8Array;
}

/** Start bit, data bits, stop bit. */
const BITS = 10;

/** What a receiver at `readBaud` makes of bursts sent at `sentBaud`, from `fromS` on: it may start in the middle of a byte. */
export function received(bursts: readonly Burst[], sentBaud: number, readBaud: number, fromS = 0): Uint8Array {
  const wire = new Wire(bursts, sentBaud);
  const bytes: number[] = [];
  let s = wire.nextLow(fromS);
  while (s < wire.endS) {
    let byte = 0;
    for (let i = 0; i < 8; i++) byte |= wire.levelAt(s + (i + 1.5) / readBaud) << i;
    bytes.push(byte);
    // The next start bit is a fall from high to low, looked for from the middle of the stop bit.
    s = wire.nextLow(wire.nextHigh(s + 9.5 / readBaud));
  }
  return Uint8Array.from(bytes);
}

/** The level of the wire over time: 1 while nothing is sent. */
class Wire {
  readonly #bitS: number;
  /** When each byte begins, s. */
  readonly #startsS: number[] = [];
  readonly #sent: number[] = [];
  readonly endS: number;

  constructor(bursts: readonly Burst[], baud: number) {
    this.#bitS = 1 / baud;
    let freeS = 0;
    for (const { atS, bytes } of bursts) {
      for (const byte of bytes) {
        freeS = Math.max(atS, freeS);
        this.#startsS.push(freeS);
        this.#sent.push(byte);
        freeS += BITS * this.#bitS;
      }
    }
    this.endS = freeS;
  }

  levelAt(s: number): number {
    const at = this.#indexAt(s);
    return at < 0 ? 1 : this.#level(at, this.#bitAt(at, s));
  }

  nextLow(s: number): number {
    return this.#next(0, s);
  }

  nextHigh(s: number): number {
    return this.#next(1, s);
  }

  /** When the level is `wanted` next; infinite = never again. */
  #next(wanted: number, s: number): number {
    if (this.levelAt(s) === wanted) return s;
    let at = Math.max(0, this.#indexAt(s));
    let bit = s < (this.#startsS[at] ?? 0) ? -1 : this.#bitAt(at, s);
    while (at < this.#sent.length) {
      bit++;
      // After its stop bit the wire is idle until the next byte.
      if (bit >= BITS) {
        if (wanted === 1) break;
        at++;
        bit = -1;
      } else if (this.#level(at, bit) === wanted) break;
    }
    return (this.#startsS[at] ?? Number.POSITIVE_INFINITY) + bit * this.#bitS;
  }

  #bitAt(at: number, s: number): number {
    // A time that was calculated as the edge of a bit belongs to the bit that begins there.
    return Math.min(BITS, Math.floor((s - (this.#startsS[at] ?? 0)) / this.#bitS + 1e-6));
  }

  #level(at: number, bit: number): number {
    if (bit === 0) return 0;
    return bit < BITS - 1 ? ((this.#sent[at] ?? 0) >> (bit - 1)) & 1 : 1;
  }

  /** The last byte that has begun; −1 = none. */
  #indexAt(s: number): number {
    let low = 0;
    let high = this.#startsS.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if ((this.#startsS[middle] ?? 0) <= s + 1e-6 * this.#bitS) low = middle + 1;
      else high = middle;
    }
    return low - 1;
  }
}

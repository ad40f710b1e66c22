/** What a port receives at a wrong baud rate comes from a made-up model of a UART; no real port was used. */
import { describe, expect, it } from 'vitest';
import { fitsClearly, fitsClearlyNot, mayFit, rateFit } from '../../server/source/baud-rate-fit.ts';
import { USUAL_RATES } from '../../server/source/baud-rate-search.ts';
import type { Connection, Connector } from '../../server/source/connection.ts';
import { ReconnectingSource } from '../../server/source/reconnecting-source.ts';
import { SKETCHES, type Sketch } from '../door/sketches.ts';
import { casesOf } from '../long-check.ts';
import { CollectingListener, until } from './collecting-listener.ts';
import { type Burst, received } from './uart-model.ts';

/** What a sketch prints, with the pauses between its lines. */
function printed({ print, linesPerS }: Sketch, seconds: number): Burst[] {
  return Array.from({ length: Math.ceil(seconds * linesPerS) }, (_, i) => ({
    atS: i / linesPerS,
    bytes: Buffer.from(print(i / linesPerS, i)),
  }));
}

/** The same without pauses: the receiver finds no idle line to start from. */
function saturated(sketch: Sketch, lines: number): Burst[] {
  return Array.from({ length: lines }, (_, i) => ({ atS: 0, bytes: Buffer.from(sketch.print(i / 10, i)) }));
}

const triedBefore = (sent: number) => USUAL_RATES.slice(0, USUAL_RATES.indexOf(sent));
const wrongRates = (sent: number) => USUAL_RATES.filter((read) => read !== sent);

describe.each(casesOf(SKETCHES, 2))('lines of the sketch “$name”', (sketch) => {
  it('fit at their own rate within a second, or three if the sketch prints slowly', () => {
    for (const baud of USUAL_RATES) {
      const lines = printed(sketch, sketch.linesPerS < 5 ? 3 : 1);
      expect([baud, fitsClearly(rateFit(received(lines, baud, baud, 0.05)))]).toEqual([baud, true]);
    }
  });

  it('fit at no rate that is tried before their own, wherever the receiver starts', () => {
    const mistaken: string[] = [];
    for (const sent of USUAL_RATES) {
      for (const read of triedBefore(sent)) {
        const bit = 1 / sent;
        const heard = [
          ...[0, 0.05].map((fromS) => received(printed(sketch, 3), sent, read, fromS)),
          ...[0, 3.4, 7.8].map((bits) => received(saturated(sketch, 20), sent, read, bits * bit)),
        ];
        if (heard.some((bytes) => fitsClearly(rateFit(bytes)))) mistaken.push(`${sent} read at ${read}`);
      }
    }
    expect(mistaken).toEqual([]);
  });
});

describe('what arrives', () => {
  const fitOf = (text: string) => rateFit(Buffer.from(text));

  it('is not clear after one line, or without a line end', () => {
    expect(fitsClearly(fitOf('d=1.752 t1=198.4 s1=200\n'))).toBe(false);
    expect(fitsClearly(fitOf('d=1.752 '.repeat(200)))).toBe(false);
    expect(mayFit(fitOf('d=1.752 t1=198.4 s1=200\n'))).toBe(true);
  });

  it('fits without a reading if it is text through and through', () => {
    expect(fitOf('hello from the bench\n'.repeat(4))).toMatchObject({ readings: 0, lineEnds: 4, textShare: 1 });
    expect(fitsClearly(fitOf('hello from the bench\n'.repeat(4)))).toBe(true);
    expect(fitsClearly(rateFit(Buffer.from('h\xe4ll\xf6 from the b\xe9nch\n'.repeat(4), 'latin1')))).toBe(false);
  });

  it('is clearly wrong only after enough bytes', () => {
    const noise = (length: number) => Uint8Array.from({ length }, (_, i) => (i * 151) % 256);
    expect(fitsClearlyNot(rateFit(noise(200)))).toBe(true);
    expect(fitsClearlyNot(rateFit(noise(12)))).toBe(false);
    expect(mayFit(rateFit(noise(12)))).toBe(false);
    expect(mayFit(rateFit(new Uint8Array(0)))).toBe(true);
  });
});

const SKETCH = SKETCHES[0] as Sketch;

/** A board on a made-up port, which counts how often it is opened. */
class Port implements Connector {
  readonly title = 'made-up port';
  readonly place = 'the made-up port';
  readonly silence = 'nothing arrived';
  readonly baudRate = 115_200;
  opened = 0;
  rate: number = this.baudRate;
  readonly rates: number[] = [];
  unplug = (_reason: string) => {};
  readonly #sentBaud: number;
  readonly #lines: readonly Burst[];

  constructor(sentBaud: number, lines = saturated(SKETCH, 3)) {
    this.#sentBaud = sentBaud;
    this.#lines = lines;
  }

  open(): Promise<Connection> {
    this.opened++;
    this.rate = this.baudRate;
    let timer: NodeJS.Timeout | undefined;
    return Promise.resolve({
      lost: new Promise<string>((resolve) => {
        this.unplug = resolve;
      }),
      listen: (bytes) => {
        timer = setInterval(() => bytes(received(this.#lines, this.#sentBaud, this.rate)), 2);
      },
      setRate: (rate) => {
        this.rate = rate;
        this.rates.push(rate);
        return Promise.resolve();
      },
      close: () => {
        clearInterval(timer);
        return Promise.resolve();
      },
    });
  }
}

async function opened(port: Port, run: (source: ReconnectingSource, listener: CollectingListener) => Promise<void>) {
  const listener = new CollectingListener();
  const source = new ReconnectingSource(port, () => 0, { silenceMs: 5000, firstPauseMs: 1, rateTrialMs: 50 });
  source.start(listener);
  try {
    await until('bytes arrive', () => listener.count('bytes') > 0);
    await run(source, listener);
  } finally {
    await source.stop();
  }
}

describe('a search on the open port', () => {
  it('finds the rate, sets the old one again, and passes nothing of the trial on', () => {
    const port = new Port(38_400);
    return opened(port, async (source, listener) => {
      const tried: number[] = [];
      expect(await source.findRate((baud) => tried.push(baud))).toBe(38_400);
      expect(tried).toEqual([9600, 57_600, 38_400]);
      expect(port.rates).toEqual([...tried, 115_200]);
      expect(port.opened).toBe(1);
      const received = listener.count('bytes');
      await until('bytes arrive again', () => listener.count('bytes') > received);
      expect(listener.text).not.toContain('TempA');
    });
  });

  it('finds none if the board sends no text at any of them', () => {
    const noise: Burst[] = [{ atS: 0, bytes: Uint8Array.from({ length: 200 }, (_, i) => ((i * 151) % 256) | 128) }];
    const port = new Port(9600, noise);
    return opened(port, async (source) => {
      expect(await source.findRate(() => {})).toBeNull();
      expect(port.rates).toEqual([...wrongRates(115_200), 115_200]);
    });
  });

  it('is given up when the port is released or lost', async () => {
    for (const end of ['release', 'lose'] as const) {
      const port = new Port(1_000_000);
      await opened(port, async (source, listener) => {
        const found = source.findRate(() => {});
        await until('a trial runs', () => port.rates.length > 0);
        if (end === 'release') await source.release(1);
        else port.unplug('the cable was unplugged');
        expect(await found).toBeNull();
        await until('it is open again', () => listener.count('opened') === 2);
        expect(port.rate).toBe(115_200);
      });
    }
  });

  it('does not start twice, nor without an open port', () =>
    opened(new Port(1_000_000), async (source) => {
      const first = source.findRate(() => {});
      expect(await source.findRate(() => {})).toBeNull();
      expect(await first).toBe(1_000_000);
      const fresh = new ReconnectingSource(new Port(9600), () => 0, { silenceMs: 5000 });
      expect(await fresh.findRate(() => {})).toBeNull();
    }));
});

describe('the model', () => {
  const sent: Burst[] = [
    { atS: 0, bytes: Uint8Array.from([0x55, 0x00, 0xff, 0x0a]) },
    { atS: 0.5, bytes: Buffer.from('d=1.752\n') },
  ];

  it('gives what was sent at the same rate, and within a few percent of it', () => {
    const whole = Uint8Array.from(sent.flatMap(({ bytes }) => [...bytes]));
    for (const factor of [1, 0.97, 1.03]) expect(received(sent, 9600, 9600 * factor)).toEqual(whole);
  });

  it('sees each bit twice at twice the rate', () => {
    // Start bit and data bits of 0x55: 0 1 0 1 0 … become a start bit, then 0 1 1 0 0 1 1 0.
    expect(received([{ atS: 0, bytes: Uint8Array.of(0x55) }], 9600, 19_200)[0]).toBe(0b0110_0110);
  });
});

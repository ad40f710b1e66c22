/**
 * What a port receives at a wrong baud rate comes from a made-up model of a UART (8N1, sampled in the middle of each bit);
 * no real port was used.
 */
import { describe, expect, it } from 'vitest';
import type { Connection, Connector } from '../../server/source/connection.ts';
import { ReconnectingSource } from '../../server/source/reconnecting-source.ts';
import { isSketchText, USUAL_RATES } from '../../server/source/usual-rates.ts';
import { CollectingListener, until } from './collecting-listener.ts';

const TEXT = Buffer.from('d=1.752 t1=198.4 s1=200\nd=1.748 t1=198.6 s1=200\n'.repeat(4));

/** The bytes that a receiver at one rate reads of bytes sent at another, back to back. */
function received(sent: Uint8Array, sentBaud: number, readBaud: number): Uint8Array {
  const bits = [...sent].flatMap((byte) => [0, ...Array.from({ length: 8 }, (_, i) => (byte >> i) & 1), 1]);
  const levelAt = (s: number) => bits[Math.floor(s * sentBaud)] ?? 1;
  const bytes: number[] = [];
  const endS = bits.length / sentBaud;
  const stepS = 1 / (16 * readBaud);
  for (let s = 0; s < endS; s += stepS) {
    if (levelAt(s) !== 0) continue;
    let byte = 0;
    for (let i = 0; i < 8; i++) byte |= levelAt(s + (i + 1.5) / readBaud) << i;
    bytes.push(byte);
    // The next start bit is looked for in the stop bit.
    s += 9.5 / readBaud;
  }
  return Uint8Array.from(bytes);
}

describe('text of a sketch', () => {
  it('is recognised at its own rate only', () => {
    for (const sent of USUAL_RATES)
      for (const read of USUAL_RATES)
        expect([sent, read, isSketchText(received(TEXT, sent, read))]).toEqual([sent, read, sent === read]);
  });

  it('is not recognised in a few bytes, in text without line ends, or without numbers', () => {
    expect(isSketchText(Buffer.from('d=1.75\n'))).toBe(false);
    expect(isSketchText(Buffer.from('d=1.752 '.repeat(20)))).toBe(false);
    expect(isSketchText(Buffer.from('hello, this is a sketch\n'.repeat(5)))).toBe(false);
  });
});

/** A board that sends at 9600 baud, on a port that counts how often it is opened. */
class Port implements Connector {
  readonly title = 'made-up port';
  readonly place = 'the made-up port';
  readonly silence = 'nothing arrived';
  readonly baudRate = 115_200;
  opened = 0;
  rate = this.baudRate;

  open(): Promise<Connection> {
    this.opened++;
    let timer: NodeJS.Timeout | undefined;
    return Promise.resolve({
      lost: new Promise<string>(() => {}),
      listen: (bytes) => {
        timer = setInterval(() => bytes(received(TEXT, 9600, this.rate)), 5);
      },
      setRate: (rate) => {
        this.rate = rate;
        return Promise.resolve();
      },
      close: () => {
        clearInterval(timer);
        return Promise.resolve();
      },
    });
  }
}

it('finds the rate on the open port, sets the old one again, and passes nothing of the trial on', async () => {
  const port = new Port();
  const listener = new CollectingListener();
  const source = new ReconnectingSource(port, () => 0, { silenceMs: 5000, rateTrialMs: 40 });
  source.start(listener);
  await until('it is open', () => listener.count('bytes') > 0);
  expect(await source.findRate()).toBe(9600);
  expect([port.opened, port.rate]).toEqual([1, 115_200]);
  expect(listener.text).not.toContain('d=1.752');
  await source.stop();
});

/** Names of receivers when the name server does not answer, as without internet. */
import dns from 'node:dns';
import { once } from 'node:events';
import { type AddressInfo, connect, createServer } from 'node:net';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { rememberAddresses, remembering } from '../../server/command/known-addresses.ts';

const DAY_MS = 24 * 60 * 60_000;
const OPTIONS = { all: true };
type Answer = (error: Error | null, ...found: unknown[]) => void;

describe('a name server', () => {
  /** The questions that have not been answered. */
  let open: { name: unknown; answer: Answer }[];
  let lookup: ReturnType<typeof remembering>;
  beforeEach(() => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout', 'performance'] });
    open = [];
    lookup = remembering(
      (...args) => {
        open.push({ name: args[0], answer: args.at(-1) as Answer });
      },
      () => performance.now(),
    );
  });
  afterEach(() => {
    vi.useRealTimers();
  });

  /** What was answered to one question so far. */
  function ask(name: string): unknown[][] {
    const answers: unknown[][] = [];
    lookup(name, OPTIONS, (...answer) => answers.push(answer));
    return answers;
  }
  const reply = (...answer: Parameters<Answer>) => open.shift()?.answer(...answer);

  it('that answers is asked each time, and believed', () => {
    for (const address of ['192.0.2.1', '192.0.2.2']) {
      const answers = ask('broker.example');
      reply(null, address, 4);
      vi.advanceTimersByTime(10_000);
      expect(answers).toEqual([[null, address, 4]]);
    }
  });

  // RFC 8767, section 5: the recommended client response timer is 1.8 seconds.
  it('that does not answer is not waited for when an address is known, and asked once at a time', () => {
    ask('broker.example');
    reply(null, '192.0.2.1', 4);
    const [first, second] = [ask('broker.example'), ask('broker.example')];
    vi.advanceTimersByTime(1799);
    expect([first, second]).toEqual([[], []]);
    vi.advanceTimersByTime(1);
    expect([first, second]).toEqual([[[null, '192.0.2.1', 4]], [[null, '192.0.2.1', 4]]]);
    const third = ask('broker.example');
    expect(open).toHaveLength(1);
    // It answers after all.
    reply(null, '192.0.2.2', 4);
    expect(third).toEqual([[null, '192.0.2.2', 4]]);
    vi.advanceTimersByTime(5000);
    expect([first, second, third].map(({ length }) => length)).toEqual([1, 1, 1]);
  });

  it('that fails changes nothing for three days, and is believed afterwards', () => {
    const failure = new Error('getaddrinfo EAI_AGAIN broker.example');
    const never = ask('broker.example');
    reply(failure);
    expect(never).toEqual([[failure]]);
    ask('broker.example');
    reply(null, '192.0.2.1', 4);
    for (const [ms, answer] of [
      [3 * DAY_MS - 1, [null, '192.0.2.1', 4]],
      [1, [failure]],
    ] as const) {
      vi.advanceTimersByTime(ms);
      const answers = ask('broker.example');
      reply(failure);
      expect(answers).toEqual([answer]);
    }
  });

  // RFC 8767, section 5: stale data is for a name server that cannot be reached, and this one has answered.
  it('that says there is no such name is believed', () => {
    ask('broker.example');
    reply(null, '192.0.2.1', 4);
    const answers = ask('broker.example');
    const noSuchName = Object.assign(new Error('getaddrinfo ENOTFOUND broker.example'), { code: 'ENOTFOUND' });
    reply(noSuchName);
    expect(answers).toEqual([[noSuchName]]);
  });

  it('is asked for each name and kind of address on its own', () => {
    ask('broker.example');
    ask('hook.example');
    lookup('hook.example', { family: 6 }, () => {});
    expect(open.map(({ name }) => name)).toEqual(['broker.example', 'hook.example', 'hook.example']);
  });

  it('of which a hundred addresses are known forgets the one asked for longest ago', () => {
    for (let i = 0; i <= 100; i++) {
      ask(`host${i}.example`);
      reply(null, `192.0.2.${i}`, 4);
    }
    const [forgotten, known] = [ask('host0.example'), ask('host2.example')];
    vi.advanceTimersByTime(1800);
    expect([forgotten, known]).toEqual([[], [[null, '192.0.2.2', 4]]]);
  });
});

it('is used by every connection of the process', async () => {
  const usual = dns.lookup;
  let isDown = false;
  const found = (...args: unknown[]) => {
    const answer = args.at(-1) as Answer;
    setImmediate(() =>
      isDown ? answer(new Error('getaddrinfo EAI_AGAIN')) : answer(null, [{ address: '127.0.0.1', family: 4 }]),
    );
  };
  const server = createServer((socket) => socket.end()).listen(0, '127.0.0.1');
  try {
    await once(server, 'listening');
    dns.lookup = found as unknown as typeof dns.lookup;
    rememberAddresses();
    for (const down of [false, true]) {
      isDown = down;
      const socket = connect({ host: 'board.example', port: (server.address() as AddressInfo).port });
      await once(socket, 'connect');
      socket.destroy();
    }
  } finally {
    dns.lookup = usual;
    server.close();
  }
});

import { once } from 'node:events';
import { existsSync, readFileSync } from 'node:fs';
import { type AddressInfo, createServer, type Socket } from 'node:net';
import { fileURLToPath } from 'node:url';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { seeded } from '../chance.ts';
import { HttpReceiver } from '../notify/http-receiver.ts';
import { type Published, SmallBroker } from '../notify/small-broker.ts';
import { type LiveListener, listenLive } from '../service/live-listener.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { NightBoard } from './night-board.ts';

/** What happened in a night, and what was stated to the service. */
export interface Night {
  readonly board: NightBoard;
  readonly dataFolder: string;
  /** When the service was killed, on this process's clock. */
  readonly killedMs: readonly number[];
  readonly provoked: readonly ProvokedFault[];
  /** Names of printers and of runs' notes that were answered with success. */
  readonly facts: readonly string[];
  /** Resident memory of the service when it had run for a while, MB: all, and since it was last killed. */
  readonly rssMb: readonly number[];
  readonly rssSinceKillMb: readonly number[];
  /** When it was the most, on this process's clock. */
  readonly rssMostMs: number;
  /** The most of that which is not of files that other processes can share, MB. */
  readonly ownMostMb: number;
  readonly output: string;
  /** Ends of the service that no one asked for. */
  readonly unasked: number;
  /** Messages of webhook and broker that still waited at the end. */
  readonly waiting: number;
  /** Keys of the messages that were accepted, in that order; a kill may have hidden it from the service, so that a copy follows. */
  readonly accepted: Readonly<Record<'webhook' | 'mqtt', readonly string[]>>;
}

/** `broker`: it hangs, for an hour perhaps, or works again. */
const FAULTS = ['kill', 'cable', 'garble', 'flood', 'freeze', 'webhook', 'hang', 'broker'] as const;
type FaultName = (typeof FAULTS)[number];

/** On the clock of this process, as the board's lines. */
export interface ProvokedFault {
  readonly name: FaultName;
  readonly fromMs: number;
  readonly toMs: number;
}

const BASE_TOPIC = 'line';
const FACT_EVERY_MS = 700;
const RSS_EVERY_MS = 2000;
/** A new process takes this long until its memory says something. */
const SETTLED_MS = 15_000;
/** A line in real time winds after a minute and a half. */
const NOTICED_WITHIN_MS = 120_000;

const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

/** How long the night is on the clocks of the line and of the service, and how much faster they run than the machine's. */
export interface NightPlan {
  readonly minutes: number;
  readonly pace: number;
  readonly seed: number;
}

const FAST_CLOCK = fileURLToPath(new URL('../../../tests/soak/fast-clock.mjs', import.meta.url));

/** Lets the built service watch for some time while everything around it fails at times. */
export async function spendNight({ minutes, pace, seed }: NightPlan): Promise<Night> {
  const random = seeded(seed);
  const between = (low: number, high: number) => low + random() * (high - low);
  const board = new NightBoard(seed, seeded(seed + 1), pace);
  await board.start();
  const webhook = await new HttpReceiver().start();
  let hangs = false;
  const toWebhook: string[] = [];
  webhook.answerTo = ({ body }) => {
    if (hangs) return 'hang';
    toWebhook.push(JSON.parse(body.toString('utf8')).data.key);
    return null;
  };
  const broker = await new SmallBroker().start();
  broker.acknowledges = true;
  const mute = await startMute();
  const dataFolder = newDataFolder();
  const env = {
    NODE_OPTIONS: `--import=${FAST_CLOCK}`,
    STRANDWARD_PACE: String(pace),
    STRANDWARD_PACE_SINCE_MS: String(Date.now()),
  };
  const source = `tcp:127.0.0.1:${board.port}`;
  const begin = () => startService({ source, dataFolder, args: ['--log', 'warn'], env });
  let service = await begin();
  let startedMs = performance.now();
  let [output, unasked, expected] = ['', 0, false];
  let over = false;
  /** One that ended although no one asked for it is started again, as a supervisor does. */
  let restarting: Promise<void> = Promise.resolve();
  const watch = (watched: RunningService): void => {
    watched.process.once('close', (code, signal) => {
      output += watched.output();
      if (expected) return;
      unasked++;
      output += `The service ended with ${code ?? signal}.\n`;
      if (over) return;
      restarting = begin().then((next) => {
        service = next;
        startedMs = performance.now();
        watch(next);
      });
    });
  };
  /** On a busy machine an answer may be late. */
  const answer = async <T>(ask: () => Promise<T>, what: string): Promise<T> => {
    const got = await until(
      async () => {
        await restarting;
        return ask().then(
          (value) => ({ value }),
          (thrown: unknown) => ({ why: String(thrown) }),
        );
      },
      (one) => 'value' in one,
      what,
      60_000,
    );
    return (got as { value: T }).value;
  };
  watch(service);
  let attempt = 0;
  await answer(
    () => tellPeople(service, { webhook: webhook.url, broker: broker.address, mutePort: mute.port }, ++attempt),
    'a channel and a person',
  );
  const stage = async () => (await service.get<LiveState>('/api/state')).stage.stage;
  /** Whoever is at the line says that it winds. */
  const stateWinding = async () => {
    const wind = () => service.send('POST', '/api/stage', { stage: 'winding' });
    await until(
      () => answer(wind, 'a stage'),
      ({ status }) => status < 300,
      'winding stated',
      60_000,
    );
  };
  const untilMs = performance.now() + NOTICED_WITHIN_MS;
  const seen = await until(
    () => answer(stage, 'the stage'),
    (now) => now === 'winding' || performance.now() > untilMs,
    'a stage',
    180_000,
  );
  // A service that notices it too late sees only strand that does not settle.
  if (seen !== 'winding') await stateWinding();

  const killedMs: number[] = [];
  const facts: string[] = [];
  const rssMb: number[] = [];
  const rssSinceKillMb: number[] = [];
  let [rssMostMb, rssMostMs, ownMostMb] = [0, 0, 0];
  const provoked: ProvokedFault[] = [];
  const provoke: Record<FaultName, () => Promise<void>> = {
    kill: async () => {
      expected = true;
      killedMs.push(performance.now());
      rssSinceKillMb.length = 0;
      await service.kill();
      await pause(between(0, 2000));
      expected = false;
      service = await begin();
      watch(service);
      startedMs = performance.now();
      // If a start takes too long, the run has ended.
      if ((await answer(stage, 'the stage')) !== 'winding') await stateWinding();
    },
    cable: async () => {
      board.pullOut();
      await pause(between(200, 6000));
      await board.plugIn();
    },
    garble: async () => {
      board.garbledShare = between(0.02, 0.5);
      await pause(between(1000, 4000));
      board.garbledShare = 0;
    },
    flood: async () => board.flood(),
    freeze: async () => {
      const frozen: LiveListener[] = [];
      for (let i = 0; i < 20; i++) frozen.push(await answer(() => listenLive(service.address), 'a live feed'));
      for (const one of frozen) one.stall();
      await pause(between(2000, 6000));
      for (const one of frozen) one.resume();
      await pause(200);
      for (const one of frozen) one.close();
    },
    webhook: async () => {
      await webhook.stop();
      await pause(between(2000, 10_000));
      await webhook.start();
    },
    hang: async () => {
      hangs = true;
      await pause(between(2000, 10_000));
      hangs = false;
    },
    broker: async () => {
      broker.acknowledges = !broker.acknowledges;
    },
  };
  const enterFacts = async () => {
    for (let i = 0; !over; i++) {
      const name = `printer ${i}`;
      const limits = { hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 };
      // A request that was not answered may or may not have been done.
      const reply = await service.send('POST', '/api/printers', { name, ...limits }).catch(() => null);
      if (reply?.status === 201) facts.push(name);
      await pause(FACT_EVERY_MS);
    }
  };
  const measureMemory = async () => {
    while (!over) {
      await pause(RSS_EVERY_MS);
      if (performance.now() - startedMs < SETTLED_MS) continue;
      const { VmRSS: mb = 0, RssAnon: ownMb = 0 } = memoryMbOf(service.process.pid);
      if (mb === 0) continue;
      rssMb.push(mb);
      if (mb > rssMostMb) [rssMostMb, rssMostMs] = [mb, performance.now()];
      rssSinceKillMb.push(mb);
      ownMostMb = Math.max(ownMostMb, ownMb);
    }
  };
  const side = [enterFacts(), measureMemory()];
  const nightMs = (minutes * 60_000) / pace;
  const beganMs = performance.now();
  const endMs = beganMs + nightMs;
  // From then on its memory is followed.
  const lastKillMs = beganMs + nightMs / 2;
  while (performance.now() < endMs) {
    await pause(between(3000, 12_000));
    const faultsNow = performance.now() < lastKillMs ? FAULTS : FAULTS.filter((name) => name !== 'kill');
    const name = faultsNow[Math.floor(random() * faultsNow.length)] ?? 'cable';
    const fromMs = performance.now();
    await provoke[name]();
    provoked.push({ name, fromMs, toMs: performance.now() });
  }
  over = true;
  await Promise.all(side);
  // What is printed while the service stops cannot be read by anyone, and causes messages without end.
  board.switchOff();
  broker.acknowledges = true;
  const waiting = await until(
    async () => {
      const { channels } = await service.get<{ channels: { kind: string; waiting: number }[] }>('/api/people');
      return channels.filter(({ kind }) => kind !== 'email').reduce((sum, one) => sum + one.waiting, 0);
    },
    (count) => count === 0,
    'all messages delivered',
    180_000,
  ).catch(() => -1);
  await pause(1500);
  expected = true;
  await service.stop();
  board.stop();
  await webhook.stop();
  broker.stop();
  mute.close();
  return {
    board,
    dataFolder,
    killedMs,
    provoked,
    facts,
    rssMb,
    rssSinceKillMb,
    rssMostMs,
    ownMostMb,
    output,
    unasked,
    waiting,
    accepted: { webhook: toWebhook, mqtt: keysTo(broker) },
  };
}

/** A server of mail that accepts connections and says nothing, all night. */
async function startMute(): Promise<{ readonly port: number; close(): void }> {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => {});
    socket.on('close', () => sockets.delete(socket));
    socket.resume();
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return {
    port: (server.address() as AddressInfo).port,
    close() {
      server.close();
      for (const socket of sockets) socket.destroy();
    },
  };
}

/** @param attempt an earlier one may have been done although it was not answered */
async function tellPeople(
  service: RunningService,
  { webhook, broker, mutePort }: { webhook: string; broker: string; mutePort: number },
  attempt: number,
): Promise<void> {
  const mail = { host: '127.0.0.1', port: mutePort, security: 'none', from: 'line@example.org', to: 'ada@example.org' };
  const login = { user: '', password: '', certificate: '' };
  const channelIds: number[] = [];
  for (const settings of [
    { kind: 'webhook', url: webhook, secret: '', template: '' },
    { kind: 'mqtt', address: broker, baseTopic: BASE_TOPIC, ...login },
    { kind: 'email', ...mail, ...login },
  ]) {
    const channel = await service.send('POST', '/api/channels', { name: `${settings.kind} ${attempt}`, settings });
    channelIds.push(channel.body.id);
  }
  const ada = { name: `Ada ${attempt}`, channelIds, leastPriority: 'low', quiet: null, round: 1 };
  const person = await service.send('POST', '/api/people', ada);
  if (person.status !== 201) throw new Error(`No one can be notified: ${JSON.stringify(person)}`);
}

/** Of the messages that the broker acknowledged. Unlike the state of the line, they have keys. */
function keysTo(broker: SmallBroker): string[] {
  const isAccepted = ({ topic, acknowledged }: Published) =>
    acknowledged && /\/(?:alarms|messages|spools)$/.test(topic);
  return broker.published.filter(isAccepted).map(({ text }) => JSON.parse(text).key);
}

/** Linux only, by name in proc_pid_status(5), MB; empty = it has just ended. */
function memoryMbOf(pid: number | undefined): Partial<Record<'VmRSS' | 'RssAnon', number>> {
  const path = `/proc/${pid}/status`;
  const status = existsSync(path) ? readFileSync(path, 'latin1') : '';
  const found = status.matchAll(/^(\w+):\s+(\d+) kB$/gm);
  return Object.fromEntries([...found].map(([, name, kb]) => [name, (Number(kb) * 1024) / 1e6]));
}

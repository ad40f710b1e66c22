import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { MqttSettings } from '../../server/escalation/channel.ts';
import { startService, until } from '../service/running-service.ts';
import { type Certificate, makeCertificate } from './certificate.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

/** Debian installs it in a folder that only root's PATH contains. */
const PATH = `${process.env.PATH}:/usr/sbin`;

let folder: string;
let certificate: Certificate;
let port = 0;
let tlsPort = 0;
let broker: ChildProcess | null = null;
let ear: MqttClient;
let under: NotifierUnderTest;
/** The last payload of each topic, and all messages in order. */
const last = new Map<string, string>();
// biome-ignore lint/suspicious/noExplicitAny: what came is what the test examines
const messages: any[] = [];
/** All payloads of `monitor` and `state`, in order. */
const standing: string[] = [];

async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const free = (server.address() as { port: number }).port;
  await new Promise<void>((resolve) => server.close(() => resolve()));
  return free;
}

/** Debian's mosquitto with a password and TLS. */
async function startBroker(): Promise<void> {
  broker = spawn('mosquitto', ['-c', join(folder, 'mosquitto.conf')], {
    env: { ...process.env, PATH },
    stdio: 'ignore',
  });
  ear = await until(
    () =>
      connectAsync(`mqtt://127.0.0.1:${port}`, {
        username: 'line',
        password: 'right-password',
        reconnectPeriod: 0,
      }).catch(() => null),
    (client) => client !== null,
    'the broker listens',
  ).then((client) => client!);
  ear.on('message', (topic, payload) => {
    last.set(topic, payload.toString());
    if (topic.endsWith('/messages')) messages.push(JSON.parse(payload.toString()));
    else standing.push(`${topic} ${payload}`);
  });
  await ear.subscribeAsync('#', { qos: 1 });
}

async function stopBroker(): Promise<void> {
  await ear?.endAsync(true);
  const child = broker;
  broker = null;
  if (child === null) return;
  const ended = new Promise((resolve) => child.once('close', resolve));
  child.kill('SIGTERM');
  await ended;
}

const settings = (more: Partial<MqttSettings> = {}): MqttSettings => ({
  kind: 'mqtt',
  address: `mqtt://127.0.0.1:${port}`,
  user: 'line',
  password: 'right-password',
  baseTopic: 'workshop/line-1',
  certificate: '',
  ...more,
});
const becomes = (topic: string, pattern: RegExp) =>
  until(
    () => last.get(`workshop/line-1/${topic}`) ?? '',
    (text) => pattern.test(text),
    `${topic} is ${pattern}`,
    30_000,
  );

beforeAll(async () => {
  certificate = makeCertificate();
  folder = mkdtempSync(join(tmpdir(), 'strandward-mqtt-'));
  [port, tlsPort] = [await freePort(), await freePort()];
  const passwords = join(folder, 'passwords');
  execFileSync('mosquitto_passwd', ['-b', '-c', passwords, 'line', 'right-password'], {
    env: { ...process.env, PATH },
  });
  const user = process.getuid?.() === 0 ? 'user root\n' : '';
  writeFileSync(
    join(folder, 'mosquitto.conf'),
    `${user}allow_anonymous false\npassword_file ${passwords}\nlistener ${port} 127.0.0.1\nlistener ${tlsPort} 127.0.0.1\ncertfile ${certificate.certFile}\nkeyfile ${certificate.keyFile}\n`,
  );
});
afterAll(() => {
  certificate.remove();
  rmSync(folder, { recursive: true, force: true });
});
beforeEach(async () => {
  last.clear();
  messages.length = 0;
  standing.length = 0;
  await startBroker();
  under = await startNotifier({ attemptMs: 4000 });
});
afterEach(async () => {
  await under.remove();
  await stopBroker();
});

describe('MQTT', () => {
  it('keeps the state and the alarms on the broker, and sends messages', async () => {
    under.addPerson('House', [await under.addChannel('Broker', settings())]);
    await becomes('monitor', /^watching$/);
    await becomes('state', /"alarms":\[\]/);
    under.raise();
    await until(
      () => messages,
      (list) => list.length === 1,
      'the message',
    );
    expect(messages[0]).toMatchObject({
      kind: 'raised',
      priority: 'high',
      title: 'Get up: Blob',
      urgency: 'getUp',
      conversation: 'alarm-1',
      alarm: 1,
      line: 'Bench line',
    });
    const state = JSON.parse(await becomes('state', /"id":1/));
    expect(state).toMatchObject({ alarms: [{ id: 1, title: 'Blob', state: 'unacknowledged', priority: 'high' }] });
    // A later subscriber finds it, because it is retained.
    const late = await connectAsync(`mqtt://127.0.0.1:${port}`, { username: 'line', password: 'right-password' });
    const found: string[] = [];
    late.on('message', (topic, _payload, { retain }) => void (retain && found.push(topic)));
    await late.subscribeAsync('workshop/#');
    await until(
      () => found.length,
      (n) => n === 2,
      'two retained topics',
    );
    expect(found.sort()).toEqual(['workshop/line-1/monitor', 'workshop/line-1/state']);
    await late.endAsync();
  });

  it('publishes “stopped” at an orderly stop', async () => {
    await under.addChannel('Broker', settings());
    await becomes('monitor', /^watching$/);
    await under.notifier.stop();
    await becomes('monitor', /^stopped$/);
  });

  it('publishes nothing under `monitor` for a test of a saved or a new channel', async () => {
    const id = await under.addChannel('Broker', settings());
    await becomes('monitor', /^watching$/);
    await becomes('state', /"alarms":\[\]/);
    const before = [...standing];
    await under.notifier.tryChannel(id, 'Broker', settings({ password: '' }));
    await under.notifier.tryChannel(null, 'Other', settings({ baseTopic: 'workshop/line-2' }));
    expect(messages).toMatchObject([{ kind: 'test' }, { kind: 'test' }]);
    // The broker keeps the order from one publisher to one subscriber: anything earlier would have arrived by now.
    await ear.publishAsync('end', '', { qos: 1 });
    await until(
      () => standing.at(-1),
      (one) => one === 'end ',
      'the end',
    );
    expect(standing.slice(0, -1)).toEqual(before);
  });

  it('connects over TLS to a broker whose certificate was entered', async () => {
    const address = `mqtts://localhost:${tlsPort}`;
    await under.notifier.tryChannel(null, 'Broker', settings({ address, certificate: certificate.cert }));
    expect(messages).toMatchObject([{ kind: 'test' }]);
    await expect(under.notifier.tryChannel(null, 'Broker', settings({ address }))).rejects.toThrow(/self-signed/);
  });

  it('reports a wrong password and an unreachable broker in plain text', async () => {
    await expect(under.notifier.tryChannel(null, 'Broker', settings({ password: 'wrong-password' }))).rejects.toThrow(
      /user name or password is wrong/,
    );
    const address = `mqtt://127.0.0.1:${await freePort()}`;
    await expect(under.notifier.tryChannel(null, 'Broker', settings({ address }))).rejects.toThrow(/Nothing listens/);
    expect(under.logged.join()).not.toMatch(/(right|wrong)-password/);
  });

  it('is failing while the broker is down, and delivers what waited when it is back', async () => {
    under.addPerson('House', [await under.addChannel('Broker', settings())]);
    await becomes('monitor', /^watching$/);
    await stopBroker();
    under.raise();
    await until(
      () => under.notifier.overview().channels[0]!.state,
      ({ phase, text }) => phase === 'failing' && /broker/.test(text),
      'failing',
      30_000,
    );
    await startBroker();
    await until(
      () => messages,
      (list) => list.some(({ kind }) => kind === 'raised'),
      'what waited',
      40_000,
    );
    await becomes('monitor', /^watching$/);
    await until(
      () => under.notifier.troubles(),
      (list) => list.length === 0,
      'it works again',
    );
  }, 90_000);

  it('leaves a last will, so that the broker publishes “gone” when the service is killed', async () => {
    const service = await startService({ source: 'simulator:evening' });
    try {
      const reply = await service.send('POST', '/api/channels', { name: 'Broker', settings: settings() });
      expect(reply.status).toBe(201);
      await becomes('monitor', /^watching$/);
      await becomes('state', /"sentence":"/);
      await service.kill();
      await becomes('monitor', /^gone$/);
    } finally {
      await service.remove();
    }
  }, 60_000);
});

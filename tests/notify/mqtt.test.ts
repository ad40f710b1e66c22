import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { connect as connectTcp, createServer, type Server, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import { Compile } from 'typebox/compile';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { BROKER_TOPICS } from '../../server/api/contract/broker.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { MqttSettings } from '../../server/escalation/channel.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { startService, until } from '../service/running-service.ts';
import { type Certificate, makeCertificate } from './certificate.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

/** Debian installs it in a folder that only root's PATH contains. */
const PATH = `${process.env.PATH}:/usr/sbin`;

let folder: string;
let certificate: Certificate;
let port = 0;
let tlsPort = 0;
/** TLS with a client certificate instead of a password. */
let certificatePort = 0;
let broker: ChildProcess | null = null;
let ear: MqttClient;
let under: NotifierUnderTest;
/** The last payload of each topic, and all messages in order. */
const last = new Map<string, string>();
// biome-ignore lint/suspicious/noExplicitAny: what came is what the test examines
const messages: any[] = [];
/** All payloads of `availability` and `state`, in order. */
const standing: string[] = [];
/** All that came on `alarms` and `spools`. */
// biome-ignore lint/suspicious/noExplicitAny: what came is what the test examines
const reports: any[] = [];
const schemas = new Map(BROKER_TOPICS.map(({ name, schema }) => [name, Compile(schema)]));
/** Where the line reaches the broker in some tests: it can be interrupted, and swallow what the broker answers. */
let gate: { readonly server: Server; isOpen: boolean; swallows: boolean; readonly sockets: Set<Socket> };

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
        protocolVersion: 5,
      }).catch(() => null),
    (client) => client !== null,
    'the broker listens',
  ).then((client) => client!);
  ear.on('message', (topic, payload, { properties }) => {
    last.set(topic, payload.toString());
    const name = topic.slice('workshop/line-1/'.length);
    if (name === 'alarms' || name === 'spools') {
      const report = JSON.parse(payload.toString());
      expect(properties).toMatchObject({ contentType: 'application/json' });
      expect([...schemas.get(name)!.Errors(report)]).toEqual([]);
      reports.push(report);
    } else if (topic.endsWith('/messages')) messages.push(JSON.parse(payload.toString()));
    else standing.push(`${topic} ${payload}`);
  });
  await ear.subscribeAsync('#', { qos: 1 });
}

async function stopBroker(signal: 'SIGTERM' | 'SIGKILL' = 'SIGTERM'): Promise<void> {
  await ear?.endAsync(true);
  const child = broker;
  broker = null;
  if (child === null) return;
  const ended = new Promise((resolve) => child.once('close', resolve));
  child.kill(signal);
  await ended;
}

async function openGate(): Promise<void> {
  const server = createServer((from) => {
    from.on('error', () => {});
    if (!gate.isOpen) return void from.destroy();
    const to = connectTcp(port, '127.0.0.1');
    to.on('error', () => from.destroy());
    to.on('close', () => from.destroy());
    from.on('close', () => to.destroy());
    from.pipe(to);
    to.on('data', (bytes) => void (gate.swallows || from.write(bytes)));
    gate.sockets.add(from);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  gate = { server, isOpen: true, swallows: false, sockets: new Set() };
}

function closeGate(): void {
  gate.isOpen = false;
  for (const socket of gate.sockets) socket.destroy();
}

const gatePort = () => (gate.server.address() as { port: number }).port;

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
  [port, tlsPort, certificatePort] = [await freePort(), await freePort(), await freePort()];
  const passwords = join(folder, 'passwords');
  execFileSync('mosquitto_passwd', ['-b', '-c', passwords, 'line', 'right-password'], {
    env: { ...process.env, PATH },
  });
  const user = process.getuid?.() === 0 ? 'user root\n' : '';
  const rights = join(folder, 'rights');
  const readAll = 'topic read #\ntopic readwrite workshop/#\ntopic readwrite end\n';
  // A line with a certificate is called by its common name.
  writeFileSync(rights, `user line\n${readAll}user localhost\n${readAll}`);
  writeFileSync(
    join(folder, 'mosquitto.conf'),
    `${user}allow_anonymous false\npassword_file ${passwords}\nlistener ${port} 127.0.0.1\nlistener ${tlsPort} 127.0.0.1\ncertfile ${certificate.certFile}\nkeyfile ${certificate.keyFile}\nacl_file ${rights}\nmax_inflight_messages 0\nlistener ${certificatePort} 127.0.0.1\ncertfile ${certificate.certFile}\nkeyfile ${certificate.keyFile}\ncafile ${certificate.certFile}\nrequire_certificate true\nuse_identity_as_username true\n`,
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
  reports.length = 0;
  await startBroker();
  await openGate();
  under = await startNotifier({ attemptMs: 4000 });
});
afterEach(async () => {
  await under.remove();
  closeGate();
  gate.server.close();
  await stopBroker();
});

describe('MQTT', () => {
  it('keeps the state and the alarms on the broker, and sends messages', { timeout: 30_000 }, async () => {
    under.addPerson('House', [await under.addChannel('Broker', settings())]);
    await becomes('availability', /"watching"/);
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
    expect(state).toMatchObject({ alarms: [{ id: 1, type: 'blob', state: 'unacknowledged', priority: 'high' }] });
    expect(reports).toMatchObject([{ step: 'raised', alarm: { id: 1, title: 'Blob', state: 'unacknowledged' } }]);
    for (const name of ['messages', 'availability'])
      expect(schemas.get(name)!.Check(JSON.parse(last.get(`workshop/line-1/${name}`)!)), name).toBe(true);
    if (IS_LONG_CHECK) {
      await ear.publishAsync('workshop/line-1/alarms/x', '{', { qos: 1 });
      await ear.publishAsync('workshop/line-1/state', 'of someone else', { qos: 1, retain: true });
      await becomes('state', /someone else/);
      await becomes('state', /"id":1/);
    }
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
    expect(found.sort()).toEqual(['workshop/line-1/availability', 'workshop/line-1/state']);
    await late.endAsync();
  });

  it('publishes “stopped” at an orderly stop', async () => {
    await under.addChannel('Broker', settings());
    await becomes('availability', /"watching"/);
    await under.notifier.stop();
    await becomes('availability', /"stopped"/);
  });

  it('publishes nothing under `availability` for a test of a saved or a new channel', async () => {
    const id = await under.addChannel('Broker', settings());
    await becomes('availability', /"watching"/);
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

  it('shows a client certificate to a broker that asks for one', async () => {
    const { cert, key } = certificate;
    const address = `mqtts://localhost:${certificatePort}`;
    const known = settings({ address, user: '', password: '', certificate: cert });
    await expect(under.notifier.tryChannel(null, 'Broker', known)).rejects.toThrow(/client certificate|broke the/);
    const broken = { ...known, clientCertificate: cert };
    await expect(under.notifier.tryChannel(null, 'Broker', broken)).rejects.toThrow(/has no key/);
    await under.notifier.tryChannel(null, 'Broker', { ...broken, clientKey: key });
    expect(messages).toMatchObject([{ kind: 'test' }]);
  });

  it('reports that the broker does not allow a topic, which only MQTT 5 tells', async () => {
    const forbidden = settings({ baseTopic: 'house/line-1' });
    await expect(under.notifier.tryChannel(null, 'Broker', forbidden)).rejects.toThrow(/does not allow this/);
  });

  it('reports a wrong password and an unreachable broker in plain text', async () => {
    await expect(under.notifier.tryChannel(null, 'Broker', settings({ password: 'wrong-password' }))).rejects.toThrow(
      /user name or password is wrong/,
    );
    const address = `mqtt://127.0.0.1:${await freePort()}`;
    await expect(under.notifier.tryChannel(null, 'Broker', settings({ address }))).rejects.toThrow(
      /Nothing is listening/,
    );
    expect(under.logged.join()).not.toMatch(/(right|wrong)-password/);
  });

  it('loses no step of an alarm while the broker is killed, and keeps the order of each', {
    timeout: 240_000,
  }, async () => {
    under.addPerson('House', [
      await under.addChannel('Broker', settings({ address: `mqtt://127.0.0.1:${gatePort()}` })),
    ]);
    await becomes('availability', /"watching"/);
    const expected = new Map<number, string[]>();
    const live = (count: number) => {
      for (let i = 0; i < count; i++) {
        const alarm = under.raise({ priority: i % 2 === 0 ? 'high' : 'low' });
        under.step('acknowledged', { ...alarm, state: 'acknowledged' }, 'Ada');
        under.step('returned', { ...alarm, state: 'normal' });
        under.end(alarm.id);
        expected.set(alarm.id, ['raised', 'acknowledged', 'returned']);
      }
    };
    const arrived = () => new Set(reports.map(({ key }) => key)).size;
    const all = (what: string) => until(arrived, (count) => count === 3 * expected.size, what, 60_000);
    // The broker takes them, but the line is not told so: copies follow.
    gate.swallows = true;
    live(2);
    await until(arrived, (count) => count > 0, 'a report whose acknowledgement is lost');
    for (let kills = 0; kills < (IS_LONG_CHECK ? 8 : 1); kills++) {
      live(IS_LONG_CHECK ? 40 : 4);
      closeGate();
      gate.swallows = false;
      await stopBroker('SIGKILL');
      live(IS_LONG_CHECK ? 40 : 4);
      if (kills % 2 === 0) {
        await until(
          () => under.notifier.overview().channels[0]!.state,
          ({ phase, text }) => phase === 'failing' && /broker/.test(text),
          'failing',
          30_000,
        );
        await under.restart();
      }
      await startBroker();
      gate.isOpen = true;
      live(2);
      if (kills % 3 === 0) await all(`all of ${expected.size} alarms`);
    }
    await all('all at the end');
    const first = new Map(reports.toReversed().map((report) => [report.key, report]));
    const inOrder = [...new Map(reports.map((report) => [report.key, report])).values()];
    for (const [id, steps] of expected)
      expect(inOrder.filter(({ alarm }) => alarm.id === id).map(({ step }) => step)).toEqual(steps);
    expect(reports.length).toBeGreaterThan(first.size);
    for (const report of reports) expect(report).toEqual(first.get(report.key));
    await becomes('availability', /"watching"/);
    await until(
      () => under.notifier.troubles(),
      (list) => list.length === 0,
      'it works again',
      30_000,
    );
  });

  it('reports a finished spool, and leaves a last will, so that the broker publishes “gone” when the service is killed', async () => {
    const service = await startService({ source: 'simulator:blobs-and-necks?seed=11&pace=40' });
    try {
      const reply = await service.send('POST', '/api/channels', { name: 'Broker', settings: settings() });
      expect(reply.status).toBe(201);
      await becomes('availability', /"watching"/);
      await until(
        async () => (await service.get<LiveState>('/api/state')).spool?.woundMm ?? 0,
        (woundMm) => woundMm > 1000,
        'a metre on the spool',
        30_000,
      );
      const state = JSON.parse(await becomes('state', /"spool":\{/));
      expect([...schemas.get('state')!.Errors(state)]).toEqual([]);
      expect((await service.send('POST', '/api/spools/change')).status).toBe(200);
      const report = await until(
        () => reports.find(({ spool }) => spool !== undefined),
        (spool) => spool !== undefined,
        'the finished spool',
      );
      const { id } = report.spool;
      expect(report.spool).toEqual((await service.get<SpoolDetail>(`/api/spools/${id}`)).spool);
      expect(report.cutPlan).toEqual(await service.get(`/api/spools/${id}/cut-plan`));
      await service.kill();
      await becomes('availability', /"gone"/);
    } finally {
      await service.remove();
    }
  }, 60_000);
});

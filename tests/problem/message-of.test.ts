import { createPrivateKey, X509Certificate } from 'node:crypto';
import { once } from 'node:events';
import { readFileSync, renameSync } from 'node:fs';
import { type AddressInfo, connect, createServer } from 'node:net';
import Sqlite from 'better-sqlite3';
import { expect, it } from 'vitest';
import { messageOf } from '../../server/problem/problem.ts';

function thrownBy(work: () => unknown): unknown {
  try {
    return work();
  } catch (thrown) {
    return thrown;
  }
}

it('leaves out what the operating system says to programs', async () => {
  expect(messageOf(thrownBy(() => readFileSync('/none')))).toBe('no such file or directory');
  expect(messageOf(thrownBy(() => readFileSync('/')))).toBe('illegal operation on a directory');
  expect(messageOf(thrownBy(() => renameSync('/none, really', '/other')))).toBe('no such file or directory');
  const refused = await new Promise((resolve) => createServer().once('error', resolve).listen(1, '192.0.2.77'));
  expect(messageOf(refused)).toBe('address not available 192.0.2.77:1');
});

async function failureOf(host: string, port: number): Promise<unknown> {
  const socket = connect(port, host);
  const [failure] = await once(socket, 'error');
  return failure;
}

async function causeOf(address: string): Promise<unknown> {
  return fetch(address).catch(({ cause }) => cause);
}

it('says in words what the network, the record’s engine and TLS say in codes', async () => {
  const free = await new Promise<number>((resolve) => {
    const server = createServer().listen(0, '127.0.0.1', () => {
      const { port } = server.address() as AddressInfo;
      server.close(() => resolve(port));
    });
  });
  expect(messageOf(await failureOf('127.0.0.1', free))).toBe('nothing is listening there');
  expect(
    messageOf(Object.assign(new Error('getaddrinfo ENOTFOUND h'), { code: 'ENOTFOUND', syscall: 'getaddrinfo' })),
  ).toBe('this name is not known');
  expect(messageOf(await causeOf('http://127.0.0.1:22/'))).toBe('web addresses cannot have this port');
  const refused = Object.assign(new Error('connect ECONNREFUSED ::1:9'), { code: 'ECONNREFUSED', syscall: 'connect' });
  expect(messageOf(new AggregateError([refused, refused]))).toBe('nothing is listening there');
  expect(messageOf(thrownBy(() => new X509Certificate('x')))).toBe('no line of it starts with -----BEGIN');
  expect(messageOf(thrownBy(() => createPrivateKey('x')))).toBe('its format is not supported');
  const damaged = thrownBy(() => new X509Certificate('-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n'));
  expect(messageOf(damaged)).toBe('wrong tag');
  const notOurs = thrownBy(() => new Sqlite(Buffer.from('x'.repeat(2000))).pragma('user_version'));
  expect(messageOf(notOurs)).toBe('it is not a database');
  const small = new Sqlite(':memory:');
  small.exec('CREATE TABLE a (b); PRAGMA max_page_count = 2');
  expect(messageOf(thrownBy(() => small.exec('INSERT INTO a VALUES (zeroblob(99999))')))).toBe('the disk is full');
});

it('keeps every other message', () => {
  expect(messageOf(new Error('EARLY: as written, open'))).toBe('EARLY: as written, open');
  expect(messageOf('text')).toBe('text');
});

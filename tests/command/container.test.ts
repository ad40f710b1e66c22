/** Dockerfile and compose file, as far as they can be checked without a container engine. */
import { execFile } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, readFileSync } from 'node:fs';
import { createServer } from 'node:http';
import type { AddressInfo } from 'node:net';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { readCommandLine } from '../../server/command/command-line.ts';

const ROOT = new URL('../../', import.meta.url);
const read = (path: string) => readFileSync(new URL(path, ROOT), 'utf8');
const { services } = parse(read('docker-compose.yml'));
const { strandward } = services;
/** Each instruction on one line, without comments. */
const dockerfile = read('server/Dockerfile')
  .replaceAll(/^#.*\n/gm, '')
  .replaceAll(/\\\n\s*/g, ' ')
  .trim()
  .split('\n');
const last = dockerfile.slice(dockerfile.findLastIndex((line) => line.startsWith('FROM ')));
const argumentsOf = (lines: readonly string[], name: string) =>
  lines.filter((line) => line.startsWith(`${name} `)).map((line) => line.slice(name.length + 1));
const { engines, bin, scripts } = JSON.parse(read('package.json'));

describe('the container', () => {
  it('writes its volumes only, has no privilege, and limits its memory', () => {
    expect(strandward).toMatchObject({ read_only: true, cap_drop: ['ALL'], restart: 'unless-stopped' });
    expect(strandward.security_opt).toContain('no-new-privileges:true');
    expect(Number.parseInt(strandward.mem_limit, 10)).toBeLessThanOrEqual(512);
    expect(strandward.privileged).toBeUndefined();
    expect(argumentsOf(last, 'USER')).toEqual(['node']);
    const mounted = strandward.volumes.map((volume: string) => volume.split(':').at(-1));
    expect(mounted).toEqual(argumentsOf(last, 'VOLUME')[0]!.split(' '));
  });

  it('is reached from this machine only, unless a user says otherwise', () => {
    for (const { ports } of Object.values<{ ports: string[] }>(services))
      for (const port of ports) expect(port).toMatch(/^(127\.0\.0\.1|\$\{STRANDWARD_ADDRESS:-127\.0\.0\.1\}):/);
    expect(strandward.ports[0].endsWith(`:${argumentsOf(last, 'EXPOSE')[0]}`)).toBe(true);
  });

  it('keeps a bounded log', () => {
    for (const { logging } of Object.values<{ logging?: object }>(services))
      expect(logging).toMatchObject({ options: { 'max-size': '10m', 'max-file': '3' } });
  });

  it('has time for an orderly stop, which the service cuts off after ten seconds', () => {
    expect(Number.parseInt(strandward.stop_grace_period, 10)).toBeGreaterThan(10);
  });

  it('is given only settings that the service understands, and starts as stated', () => {
    const stated = Object.entries<string>(strandward.environment)
      // As compose fills in what is not set.
      .map(([name, value]): [string, string] => [name, value.replace(/^\$\{\w+:-(.*)\}$/, '$1')]);
    const image = argumentsOf(last, 'ENV').flatMap((line) => line.split(' ').map((pair) => pair.split('=')));
    const { request: help } = readCommandLine(['--help'], {});
    const options = help.kind === 'print' ? help.text : '';
    const asOption = (name: string) => `--${name.slice('STRANDWARD_'.length).toLowerCase().replaceAll('_', '-')} `;
    const ours = [...stated, ...image].filter(([name]) => name!.startsWith('STRANDWARD_'));
    expect(ours.length).toBeGreaterThan(4);
    expect(ours.filter(([name]) => !options.includes(asOption(name!)))).toEqual([]);
    const { request } = readCommandLine([], { ...Object.fromEntries(image), ...Object.fromEntries(stated) });
    expect(request).toMatchObject({
      kind: 'watch',
      settings: {
        host: '0.0.0.0',
        port: Number(argumentsOf(last, 'EXPOSE')[0]),
        dataFolder: '/data',
        backupFolder: '/backups',
      },
    });
  });
});

describe('the image', () => {
  it('is built from what is there, with a Node that the package allows', () => {
    const copied = argumentsOf(dockerfile, 'COPY')
      .filter((line) => !line.startsWith('--from'))
      .flatMap((line) => line.split(' ').slice(0, -1));
    expect(copied).toEqual(expect.arrayContaining(['package-lock.json', 'server', 'web', 'simulator']));
    expect(copied.filter((path) => !existsSync(new URL(path, ROOT)))).toEqual([]);
    const least = Number(/>=(\d+)/.exec(engines.node)?.[1]);
    const majors = argumentsOf(dockerfile, 'FROM').map((image) => Number(/^node:(\d+)-/.exec(image)?.[1]));
    expect(majors).toHaveLength(2);
    for (const major of majors) expect(major).toBeGreaterThanOrEqual(least);
    expect(Object.keys(scripts)).toContain('build');
  });

  // pid_namespaces(7): no signal from within ends the first process of a container, not even SIGKILL.
  it('starts the program as the child of an init, so that it can end itself when it is blocked', () => {
    expect(argumentsOf(last, 'ENTRYPOINT')).toEqual(['["tini", "--"]']);
    expect(argumentsOf(last, 'COPY')).toContain('--from=build /usr/bin/tini-static /usr/bin/tini');
    expect(argumentsOf(dockerfile, 'RUN')[0]).toMatch(/apt-get install .* tini /);
  });

  it('starts the program of the package', () => {
    expect(argumentsOf(last, 'CMD')).toEqual(['["strandward"]']);
    expect(argumentsOf(last, 'RUN').join()).toContain(`ln -s /app/${bin.strandward} /usr/local/bin/strandward`);
  });
});

describe('the check of its health', () => {
  const [, , command] = strandward.healthcheck.test.slice(1);

  it('is the same in image and compose file, and asks whether the service is alive, not whether the cable is plugged in', () => {
    const inImage = argumentsOf(last, 'HEALTHCHECK')[0]!;
    expect(inImage).toContain(`CMD node -e "${command}"`);
    for (const [name, value] of [
      ['interval', '30s'],
      ['timeout', '5s'],
      ['start-period', '10s'],
    ] as const) {
      expect(inImage).toContain(`--${name}=${value}`);
      expect(strandward.healthcheck[name.replace('-', '_')]).toBe(value);
    }
    expect(command).toContain('/health');
  });

  it.each([
    [200, 0],
    [503, 1],
    [null, 1],
  ])('answered with %s, ends with %i', async (status, code) => {
    const asked: (string | undefined)[] = [];
    const server = createServer((request, reply) => {
      asked.push(request.url);
      reply.writeHead(status ?? 500).end();
    });
    server.listen(0, '127.0.0.1');
    await once(server, 'listening');
    const { port } = server.address() as AddressInfo;
    if (status === null) server.close();
    const child = execFile(process.execPath, ['-e', command.replace(':8750', `:${port}`)]);
    expect(await once(child, 'close')).toEqual([code, null]);
    server.close();
    expect(asked).toEqual(status === null ? [] : ['/health']);
  });
});

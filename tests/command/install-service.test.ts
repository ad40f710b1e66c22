/** The systemd unit, checked by systemd's own tools where the machine has them; and what is reported to systemd. */
import { execFileSync, spawnSync } from 'node:child_process';
import {
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { readInstallService, writeUnit } from '../../server/command/install-service.ts';
import { PROBLEMS, type ProblemCode } from '../../server/problem/problem.ts';

const PROGRAM = [process.execPath, '--max-semi-space-size=1', join(process.cwd(), 'package.json')];
const HAS_ANALYZE = spawnSync('systemd-analyze', ['--version']).status === 0;
if (!HAS_ANALYZE) process.stderr.write('Skipped: systemd-analyze is not installed, so it cannot check the unit.\n');
/** systemd-analyze calls exposure below 3 “OK”; network and serial ports have to stay open. Seen: 1.9. */
const EXPOSURE_MAX = 3;

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-unit-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

const file = () => join(folder, 'strandward.service');
const requested = (...args: string[]) => {
  const request = readInstallService(['--file', file(), ...args], PROGRAM);
  if (request.kind !== 'installService') throw new Error(request.text);
  return request;
};
const printed = (...args: string[]) => {
  const request = readInstallService(['--print', ...args], PROGRAM);
  return request.kind === 'print' ? request.text : '';
};

describe('install-service', () => {
  it('writes the unit, says what to type next, and may be repeated', () => {
    expect(writeUnit(requested())).toMatch(/^Wrote the unit.*systemctl enable --now strandward/s);
    expect(statSync(file()).mode & 0o111).toBe(0);
    expect(readFileSync(file(), 'utf8')).toBe(`${printed()}\n`);
    expect(writeUnit(requested())).toMatch(/in place already/);
  });

  it('never replaces another unit', () => {
    writeUnit(requested());
    const before = readFileSync(file(), 'utf8');
    expect(() => writeUnit(requested('--port', '9000'))).toThrow(/another unit/);
    expect(readFileSync(file(), 'utf8')).toBe(before);
  });

  it('says why it cannot write', () => {
    expect(() => writeUnit({ ...requested(), file: join(folder, 'missing', 'unit') })).toThrow(/Cannot write the unit/);
  });

  it('passes options of watch on, and quotes what systemd would expand', () => {
    const unit = printed('--source', 'serial:/dev/serial/by-id/usb-"a b"%n?baud=115200', '--backup', '/media/my stick');
    expect(unit).toContain('Environment="STRANDWARD_SOURCE=serial:/dev/serial/by-id/usb-\\"a b\\"%%n?baud=115200"\n');
    expect(unit).toContain('ReadWritePaths="/media/my stick"\n');
    expect(unit).toContain('Environment="STRANDWARD_DATA=/var/lib/strandward"\n');
  });

  it('passes on how other devices reach the page', () => {
    const unit = printed('--host', '0.0.0.0', '--https', 'own-ca', '--trusted-proxy', '127.0.0.1');
    expect(unit).toContain('Environment="STRANDWARD_HTTPS=own-ca"\nEnvironment="STRANDWARD_TRUSTED_PROXY=127.0.0.1"\n');
    const files = printed('--https-cert', '/home/ada/chain.pem', '--https-key', '/home/ada/key.pem');
    expect(files).toContain('Environment="STRANDWARD_HTTPS_KEY=/home/ada/key.pem"\n');
    expect(files).toContain('ProtectHome=read-only\n');
  });

  it.each([
    ['a relative certificate', ['--https-cert', 'chain.pem', '--https-key', '/key.pem'], /full path of “chain.pem”/],
    ['a wrong port', ['--port', 'x'], /not a port/],
    ['a relative folder', ['--backup', 'stick'], /full path/],
    ['a line break, which would be a line of the unit', ['--host', '::1\nUser=root'], /control character/],
    ['a key, which every user of the machine could read', ['--access-key', 'twelve-or-more'], /Unknown option/],
  ])('refuses %s', (_what, args, why) => {
    expect(() => requested(...args)).toThrow(why);
  });

  it('lets systemd start it again, except where that cannot help', () => {
    const [, prevented] = /^RestartPreventExitStatus=(.*)$/m.exec(printed())!;
    const isPrevented = (code: ProblemCode) => prevented!.split(' ').includes(`${PROBLEMS[code].exitCode}`);
    const hopeless: ProblemCode[] = ['unknown-option', 'bad-setting', 'database-broken', 'database-newer'];
    // A disk or port may be there, and a pipeline move, the next time.
    const hopeful: ProblemCode[] = ['database-unusable', 'backup-failed', 'port-in-use', 'watching-stalled'];
    expect([hopeless.map(isPrevented), hopeful.map(isPrevented)].flat()).toEqual(
      [hopeless.map(() => true), hopeful.map(() => false)].flat(),
    );
  });

  it('hides the homes of users, unless the program is in one', () => {
    const unit = (program: string) => {
      const request = readInstallService(['--print'], [program]);
      return request.kind === 'print' ? request.text : '';
    };
    expect(unit('/usr/bin/node')).toContain('ProtectHome=yes\n');
    expect(unit('/home/ada/node')).toContain('ProtectHome=read-only\n');
  });

  it('adds line after line from one folder, each with its own port, and starts it', () => {
    const bin = join(folder, 'bin');
    mkdirSync(bin);
    writeFileSync(join(bin, 'systemctl'), `#!/bin/sh\necho "$@" >> ${bin}/asked\n`, { mode: 0o755 });
    vi.stubEnv('PATH', `${bin}:${process.env.PATH}`);
    const lines = join(folder, 'lines');
    const unitFile = join(folder, 'strandward@.service');
    const add = (name: string, ...args: string[]) =>
      writeUnit(requested('--file', unitFile, '--folder', lines, '--line', name, ...args));
    try {
      add('first', '--source', 'serial:/dev/serial/by-id/usb-"a"?baud=115200');
      expect(add('second', '--source', 'tcp:192.0.2.7:2000')).toMatch(/has been started.*:8752$/ms);
      expect(readFileSync(join(lines, 'first.env'), 'utf8')).toContain(
        'STRANDWARD_SOURCE="serial:/dev/serial/by-id/usb-\\"a\\"?baud=115200"\nSTRANDWARD_PORT="8751"\n',
      );
      expect(readFileSync(join(bin, 'asked'), 'utf8')).toMatch(/^daemon-reload\nenable --now strandward@first\n/);
      expect(readFileSync(unitFile, 'utf8')).toContain(`EnvironmentFile=${lines}/%i.env\n`);
      expect(() => add('second')).toThrow(/already a line “second”/);
      expect(() => add('third', '--port', '8751')).toThrow(/“first” has port 8751/);
      expect(() => add('Third line')).toThrow(/cannot be the name/);
      expect(() => add('third', '--backup', '/mnt')).toThrow(/share one unit/);
      expect(readdirSync(lines)).toHaveLength(2);
      writeFileSync(join(bin, 'systemctl'), '#!/bin/sh\nexit 1\n');
      expect(add('third')).toMatch(/could not be started.*systemctl enable --now strandward@third/s);
    } finally {
      vi.unstubAllEnvs();
    }
    if (!HAS_ANALYZE) return;
    const instance = join(folder, 'strandward@second.service');
    symlinkSync(unitFile, instance);
    const { status, stderr } = spawnSync('systemd-analyze', ['verify', '--man=no', instance], { encoding: 'utf8' });
    expect([status, stderr.split('\n').filter((text) => text.includes('strandward@'))]).toEqual([0, []]);
  });

  it.skipIf(!HAS_ANALYZE)('makes a unit that systemd accepts without a warning', () => {
    writeUnit(requested('--backup', '/var/backups', '--source', 'tcp:192.0.2.7:2000'));
    const { status, stdout, stderr } = spawnSync('systemd-analyze', ['verify', '--man=no', file()], {
      encoding: 'utf8',
    });
    const aboutUs = `${stdout}${stderr}`.split('\n').filter((line) => line.includes('strandward.service'));
    expect([status, aboutUs]).toEqual([0, []]);
  });

  it.skipIf(!HAS_ANALYZE)('makes a unit that exposes little', () => {
    writeUnit(requested());
    const args = ['security', '--offline=yes', '--no-pager', file()];
    const report = execFileSync('systemd-analyze', args, { encoding: 'utf8' });
    const exposure = Number(/Overall exposure level for .*: ([\d.]+)/.exec(report)?.[1]);
    expect(exposure, report).toBeGreaterThan(0);
    expect(exposure, report).toBeLessThan(EXPOSURE_MAX);
  });
});

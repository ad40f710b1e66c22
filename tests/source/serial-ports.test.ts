import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { SerialPort } from 'serialport';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { listSerialPorts } from '../../server/source/serial-ports.ts';

let dev = '';

beforeEach(() => {
  dev = mkdtempSync(join(tmpdir(), 'dev-'));
});

afterEach(() => {
  vi.restoreAllMocks();
  rmSync(dev, { recursive: true });
});

function device(name: string, stable?: string): void {
  writeFileSync(join(dev, name), '');
  if (stable === undefined) return;
  mkdirSync(join(dev, 'serial/by-id'), { recursive: true });
  symlinkSync(join('../..', name), join(dev, 'serial/by-id', stable));
}

describe('without udevadm', () => {
  beforeEach(() => {
    vi.spyOn(SerialPort, 'list').mockRejectedValue(new Error('spawn udevadm ENOENT'));
  });

  test('the ports and their stable paths are found in the device folder', async () => {
    device('ttyUSB0', 'usb-Bench_Board_00A1-if00-port0');
    device('ttyUSB10');
    device('ttyUSB2');
    device('ttyACM0');
    device('ttyS0');
    device('sda');
    expect(await listSerialPorts(dev)).toEqual([
      { path: join(dev, 'ttyACM0'), stablePath: join(dev, 'ttyACM0'), title: join(dev, 'ttyACM0'), problem: null },
      {
        path: join(dev, 'ttyUSB0'),
        stablePath: join(dev, 'serial/by-id/usb-Bench_Board_00A1-if00-port0'),
        title: 'Bench Board 00A1',
        problem: null,
      },
      { path: join(dev, 'ttyUSB2'), stablePath: join(dev, 'ttyUSB2'), title: join(dev, 'ttyUSB2'), problem: null },
      { path: join(dev, 'ttyUSB10'), stablePath: join(dev, 'ttyUSB10'), title: join(dev, 'ttyUSB10'), problem: null },
    ]);
  });

  test('a dangling link is not a port', async () => {
    mkdirSync(join(dev, 'serial/by-id'), { recursive: true });
    symlinkSync('../../ttyUSB7', join(dev, 'serial/by-id/usb-Gone_1'));
    expect(await listSerialPorts(dev)).toEqual([]);
  });

  test('a system without such folders has no ports', async () => {
    expect(await listSerialPorts(join(dev, 'nothing'))).toEqual([]);
  });
});

test('listed ports are named after their manufacturer, and unused built-in ports are left out', async () => {
  const nothing = {
    serialNumber: undefined,
    pnpId: undefined,
    locationId: undefined,
    vendorId: undefined,
    productId: undefined,
  };
  vi.spyOn(SerialPort, 'list').mockResolvedValue([
    { ...nothing, path: '/dev/ttyS0', manufacturer: undefined },
    { ...nothing, path: '/dev/ttyUSB0', manufacturer: 'Bench', serialNumber: '00A1' },
  ]);
  expect(await listSerialPorts(dev)).toEqual([
    {
      path: '/dev/ttyUSB0',
      stablePath: '/dev/ttyUSB0',
      title: 'Bench 00A1',
      problem: 'there is no such port; is the cable plugged in?',
    },
  ]);
});

test('it works on this machine', async () => {
  expect(Array.isArray(await listSerialPorts())).toBe(true);
});

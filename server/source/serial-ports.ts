import { readdir, readlink, realpath } from 'node:fs/promises';
import { join } from 'node:path';
import { SerialPort } from 'serialport';
import { portProblem } from './port-problem.ts';

export interface SerialPortChoice {
  /** Current path of the device. */
  readonly path: string;
  /** Path that stays the same after replugging if the system has one, else `path`. */
  readonly stablePath: string;
  /** Shown to users: manufacturer and kind of the adapter, else the path. */
  readonly title: string;
  /** Why it cannot be used now, as a clause; null = nothing is known against it. */
  readonly problem: string | null;
}

const DEVICES = '/dev';
const USB_NAMES = /^tty(?:USB|ACM)\d+$/;

/**
 * Serial ports that may send reading lines. The list of the operating system needs udevadm, which small containers lack,
 * so the device folder is searched as well.
 * @param deviceFolder replaces `/dev` in tests
 */
export async function listSerialPorts(deviceFolder = DEVICES): Promise<SerialPortChoice[]> {
  const links = await stableLinks(join(deviceFolder, 'serial', 'by-id'));
  const listed = await listedPorts();
  const found = new Map<string, string>();
  for (const name of await entries(deviceFolder)) {
    if (USB_NAMES.test(name)) found.set(join(deviceFolder, name), '');
  }
  for (const path of links.keys()) found.set(path, '');
  for (const port of listed) {
    // A PC lists built-in ports even if they do not exist. Only connected devices have a manufacturer or an id.
    if (port.title !== '' || found.has(port.path) || !port.path.startsWith('/dev/ttyS'))
      found.set(port.path, port.title);
  }
  const ports = [...found].map(async ([path, title]) => ({
    path,
    stablePath: links.get(path) ?? path,
    title: title || titleOfLink(links.get(path)) || path,
    problem: await portProblem(path),
  }));
  return (await Promise.all(ports)).sort((a, b) => a.path.localeCompare(b.path, 'en', { numeric: true }));
}

async function listedPorts(): Promise<{ path: string; title: string }[]> {
  try {
    const ports = await SerialPort.list();
    return ports.map((port) => ({
      path: port.path,
      title: [port.manufacturer, 'friendlyName' in port ? String(port.friendlyName) : port.serialNumber]
        .filter((part) => part !== undefined && part !== '')
        .join(' '),
    }));
  } catch {
    // There is no udevadm; the device folder is enough.
    return [];
  }
}

/** Stable link of each device. */
async function stableLinks(folder: string): Promise<Map<string, string>> {
  const links = new Map<string, string>();
  for (const name of await entries(folder)) {
    const link = join(folder, name);
    try {
      await readlink(link);
      links.set(await realpath(link), link);
    } catch {
      // The device was unplugged during the search.
    }
  }
  return links;
}

async function entries(folder: string): Promise<string[]> {
  try {
    return (await readdir(folder)).sort();
  } catch {
    // The folder does not exist if nothing is plugged in.
    return [];
  }
}

/** `usb-Acme_USB_Serial_1234-if00-port0` → `Acme USB Serial 1234`. */
function titleOfLink(link: string | undefined): string {
  const name = link?.split('/').at(-1) ?? '';
  return name
    .replace(/^usb-/, '')
    .replace(/-if\d+(?:-port\d+)?$/, '')
    .replaceAll('_', ' ');
}

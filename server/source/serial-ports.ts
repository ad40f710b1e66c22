import { readdir, readlink, realpath } from 'node:fs/promises';
import { join } from 'node:path';
import { SerialPort } from 'serialport';

export interface SerialPortChoice {
  /** The device as the system names it now. */
  readonly path: string;
  /** A name that stays the same over replugging, where the system keeps one; else the path. */
  readonly stablePath: string;
  /** For people: maker and kind of the adapter, else the path. */
  readonly title: string;
}

const DEVICES = '/dev';
const USB_NAMES = /^tty(?:USB|ACM)\d+$/;

/**
 * The serial ports that a reading line could come from. Where the list of the operating system cannot be had (it needs
 * udevadm, which small containers lack), the device folder is looked at instead.
 * @param deviceFolder only for tests: where `/dev` is
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
    // A PC lists its built-in ports whether or not they exist; only what is plugged in has a maker or an id.
    if (port.title !== '' || found.has(port.path) || !port.path.startsWith('/dev/ttyS'))
      found.set(port.path, port.title);
  }
  return [...found]
    .map(([path, title]) => ({
      path,
      stablePath: links.get(path) ?? path,
      title: title || titleOfLink(links.get(path)) || path,
    }))
    .sort((a, b) => a.path.localeCompare(b.path, 'en', { numeric: true }));
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
    // No udevadm here: the device folder has what is needed.
    return [];
  }
}

/** Device → its link that stays the same. */
async function stableLinks(folder: string): Promise<Map<string, string>> {
  const links = new Map<string, string>();
  for (const name of await entries(folder)) {
    const link = join(folder, name);
    try {
      await readlink(link);
      links.set(await realpath(link), link);
    } catch {
      // The device went while we looked: it is no choice.
    }
  }
  return links;
}

async function entries(folder: string): Promise<string[]> {
  try {
    return (await readdir(folder)).sort();
  } catch {
    // No such folder: nothing is plugged in, or this system has none.
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

import { DEVICE_RIGHTS, type DeviceRight } from '../entities/device.ts';
import { Problem } from '../problem/problem.ts';
import { dataFolderOf, type Environment, type PrintRequest, readArguments, refuseSurplus } from './arguments.ts';

/** Ask the running service for an invitation, show it, then end. */
export interface PairRequest {
  readonly kind: 'pair';
  readonly dataFolder: string;
  readonly right: DeviceRight;
  /** Address of the page for the link; null = as the service knows it. */
  readonly address: string | null;
}

const HELP = `Shows a link and a QR code that pair one device within ten minutes. Strandward must be running.

  strandward pair [options]

  --right RIGHT       what the device may do: watch; act (also answer alarms, mark, cut, write notes); or
                      manage (also change settings and pair other devices)   (default: manage)
  --address URL       address at which the device reaches the page           (default: as the service knows it)
  --data FOLDER       folder of the record, or STRANDWARD_DATA               (default: .data)`;

/** @throws Problem `unknown-option`, `bad-setting` */
export function readPair(args: readonly string[], env: Environment): PairRequest | PrintRequest {
  const { options, positionals, help } = readArguments('pair', args, ['data', 'right', 'address']);
  if (help) return { kind: 'print', text: HELP };
  refuseSurplus('pair', positionals);
  return {
    kind: 'pair',
    dataFolder: dataFolderOf(options.data, env),
    right: rightOf(options.right ?? 'manage'),
    address: options.address === undefined ? null : addressOf(options.address),
  };
}

function rightOf(text: string): DeviceRight {
  const right = DEVICE_RIGHTS.find((one) => one === text);
  if (right === undefined)
    throw new Problem('bad-setting', `“${text}” is not a right.`, `Give --right one of ${DEVICE_RIGHTS.join(', ')}.`);
  return right;
}

function addressOf(text: string): string {
  const url = URL.canParse(text) ? new URL(text) : null;
  if (url === null || !/^https?:$/.test(url.protocol)) {
    throw new Problem(
      'bad-setting',
      `“${text}” is not the address of a page.`,
      'Give --address a URL such as http://192.168.1.20:8750.',
    );
  }
  return url.origin;
}

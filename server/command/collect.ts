import { type Environment, onePath, type PrintRequest, readArguments, setting } from './arguments.ts';

/** Bring a collection of finished runs up to date, then end. */
export interface CollectRequest {
  readonly kind: 'collect';
  readonly folder: string;
  /** Of the service that watches the line. */
  readonly address: string;
  /** null = not given. */
  readonly token: string | null;
  /** Remove runs that the record no longer has, however many. */
  readonly removesAll: boolean;
}

const USUAL_ADDRESS = 'http://127.0.0.1:8750';

const HELP = `Brings a collection of finished runs up to date, for questions over all runs and lines: as Parquet files in a folder,
which may be any mount. Several lines can share one. Strandward must be running.

  strandward collect FOLDER [options]

  --address URL       address of the line                        (default: ${USUAL_ADDRESS})
  --token TOKEN       token with the right to watch, from Set-up → Devices, or STRANDWARD_TOKEN; not needed on the
                      machine of the line
  --remove-all        remove runs that the record no longer has, however many

Each run is complete before it appears. Runs that change are replaced, and those that are deleted are removed, so run
the command each night.`;

/** @throws Problem `unknown-option` */
export function readCollect(args: readonly string[], env: Environment): CollectRequest | PrintRequest {
  const { options, positionals, flags, help } = readArguments('collect', args, ['address', 'token'], ['remove-all']);
  if (help) return { kind: 'print', text: HELP };
  return {
    kind: 'collect',
    folder: onePath('collect', positionals, 'folder'),
    address: options.address ?? USUAL_ADDRESS,
    token: setting('token', options.token, env),
    removesAll: flags.has('remove-all'),
  };
}

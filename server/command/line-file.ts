import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Problem } from '../problem/problem.ts';
import { lineDataFolder } from './service-unit.ts';

/** The settings of one of several lines, as systemd and compose read them: a variable on each line. */
export interface LineFile {
  readonly name: string;
  readonly folder: string;
  readonly path: string;
  readonly port: number;
  readonly text: string;
}

/** The name becomes that of a user, `strandward-NAME`, which may have 31 characters. */
const NAME = /^[a-z][a-z0-9-]{0,19}$/;
/** The port of a line without others, which may be running. */
const USUAL_PORT = 8750;
const PORT_MAX = 65_535;

/**
 * The settings of a line that is added to those in the folder.
 * @param environment of the service; without a port, the line gets the one after the highest
 * @throws Problem `bad-name`, `bad-setting`
 */
export function lineFile(name: string, folder: string, environment: Readonly<Record<string, string>>): LineFile {
  if (!NAME.test(name)) {
    throw new Problem(
      'bad-name',
      `“${name}” cannot be the name of a line.`,
      'Use up to 20 small letters, digits and hyphens, and start with a letter.',
    );
  }
  const path = join(folder, `${name}.env`);
  if (existsSync(path)) {
    throw new Problem(
      'bad-name',
      `There is already a line “${name}”: ${path}.`,
      `Choose another name. To change that line, edit the file, then type: systemctl restart strandward@${name}`,
    );
  }
  const taken = portsIn(folder);
  const given = environment.STRANDWARD_PORT;
  const port = given === undefined ? Math.max(USUAL_PORT, ...taken.keys()) + 1 : Number(given);
  const other = taken.get(port);
  if (other !== undefined) {
    const remedy = 'Choose another, or leave --port out.';
    throw new Problem('bad-setting', `The line “${other}” has port ${port} already.`, remedy);
  }
  if (port > PORT_MAX)
    throw new Problem('bad-setting', 'No port is left after the highest one.', 'Give one with --port.');
  const variables = Object.entries({ ...environment, STRANDWARD_PORT: String(port) });
  const text = variables.map(([variable, value]) => `${variable}=${quotedValue(value)}\n`).join('');
  return { name, folder, path, port, text: `# Written by: strandward install-service --line ${name}\n${text}` };
}

/** Starts the line, now and with the machine. @returns what to tell the user */
export function startLine({ name, path, port }: LineFile): string {
  const commands = [['daemon-reload'], ['enable', '--now', `strandward@${name}`]];
  const failed = commands.find((args) => spawnSync('systemctl', args, { stdio: 'inherit' }).status !== 0);
  const typed = commands.map((args) => `  systemctl ${args.join(' ')}\n`).join('');
  return `Added the line “${name}”: ${path}
${failed === undefined ? 'It has been started, and starts with the machine.' : `It could not be started: systemctl ${failed[0]} failed. As root, type:\n\n${typed}`}
Its page: http://127.0.0.1:${port}

  strandward pair --data ${lineDataFolder(name)}      (shows a link that pairs a phone)
  journalctl -u strandward@${name} -f      (shows the log)`;
}

/** The ports of the lines in the folder, with their names. */
function portsIn(folder: string): ReadonlyMap<number, string> {
  if (!existsSync(folder)) return new Map();
  const files = readdirSync(folder).filter((file) => file.endsWith('.env'));
  return new Map(
    files.flatMap((file) => {
      const port = /^STRANDWARD_PORT=["']?(\d+)/m.exec(readFileSync(join(folder, file), 'utf8'))?.[1];
      return port === undefined ? [] : [[Number(port), file.slice(0, -'.env'.length)] as const];
    }),
  );
}

function quotedValue(value: string): string {
  return `"${value.replaceAll('\\', '\\\\').replaceAll('"', '\\"')}"`;
}

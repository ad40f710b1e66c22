/** Builds the emulated board. */
import { execFile } from 'node:child_process';
import { existsSync, mkdirSync } from 'node:fs';
import { delimiter, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';

const run = promisify(execFile);

const PROJECT = fileURLToPath(new URL('../..', import.meta.url));
export const MICROCONTROLLER_FOLDER = join(PROJECT, 'simulator/microcontroller');
export const BUILD_FOLDER = join(PROJECT, '.build/microcontroller');

/** One file of each Debian package: a program on the path, or an absolute file name. */
const PACKAGES: readonly (readonly [name: string, file: string])[] = [
  ['make', 'make'],
  ['gcc', 'gcc'],
  ['gcc-avr', 'avr-gcc'],
  ['avr-libc', '/usr/lib/avr/include/avr/io.h'],
  ['libsimavr-dev', '/usr/include/simavr/sim_avr.h'],
  ['libelf-dev', '/usr/include/libelf.h'],
];

/** The required Debian packages that are not installed. */
export function missingPackages(path: string, exists: (file: string) => boolean): string[] {
  const isInstalled = (file: string) =>
    file.startsWith('/') ? exists(file) : path.split(delimiter).some((folder) => exists(join(folder, file)));
  return PACKAGES.filter(([, file]) => !isInstalled(file)).map(([name]) => name);
}

/** The error text; undefined = nothing is missing. */
export function missingSentence(missing: readonly string[]): string | undefined {
  if (missing.length === 0) return undefined;
  return `The emulated microcontroller can't be built. Install the missing Debian packages: apt-get install -y ${missing.join(' ')}`;
}

/**
 * Build the firmware, its all-fields variant and the emulator if they are out of date. Several test files may call this at
 * the same time: the first takes the lock, and the others have nothing left to do.
 * @throws Error with the missing Debian packages or the compiler's message
 */
export async function buildMicrocontroller(): Promise<void> {
  const sentence = missingSentence(missingPackages(process.env.PATH ?? '', existsSync));
  if (sentence) throw new Error(sentence);
  mkdirSync(BUILD_FOLDER, { recursive: true });
  try {
    await run('flock', [join(BUILD_FOLDER, 'build.lock'), 'make', '--silent', '-C', MICROCONTROLLER_FOLDER, 'all']);
  } catch (error) {
    throw new Error(`make in simulator/microcontroller failed:\n${outputOf(error)}`, {
      cause: error,
    });
  }
}

/** Output of the tool, or the reason why it could not be started. */
function outputOf(error: unknown): string {
  const printed = error instanceof Error && 'stderr' in error ? String(error.stderr) : '';
  return printed || String(error);
}

/**
 * Compile C sources for this computer.
 * @returns the program's path
 * @throws Error with the compiler's message
 */
export async function compileForThisComputer(
  name: string,
  sources: readonly string[],
  flags: readonly string[] = [],
): Promise<string> {
  mkdirSync(BUILD_FOLDER, { recursive: true });
  const program = join(BUILD_FOLDER, name);
  try {
    await run('gcc', ['-std=gnu99', '-O1', '-Wall', '-Wextra', '-Werror', ...flags, '-o', program, ...sources, '-lm']);
  } catch (error) {
    throw new Error(`gcc could not compile ${sources.join(' ')}:\n${outputOf(error)}`, {
      cause: error,
    });
  }
  return program;
}

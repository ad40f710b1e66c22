import { fork } from 'node:child_process';
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseArgs } from 'node:util';
import { startedWith } from '../service/running-service.ts';
import { BLOCKED_MAX_MS, type Finding, type FuzzReport, fuzz } from './fuzz.ts';
import { TARGETS } from './targets.ts';

/**
 * npm run fuzz -- --seconds 60 --seed 7 --target reading; without a target all are fuzzed. Each runs in its own process,
 * so that one which hangs or crashes is noticed and ended. Exit code 1 = there are findings; each is written to
 * .build/fuzz/, from where it can be copied to tests/fuzz/cases/.
 */
const { values } = parseArgs({
  options: {
    seconds: { type: 'string', default: '30' },
    seed: { type: 'string', default: String(Date.now() % 1e6) },
    target: { type: 'string' },
    /** Set by this program for the process of one target. */
    child: { type: 'boolean', default: false },
  },
});
const seconds = Number(values.seconds);
const seed = Number(values.seed);
const chosen = TARGETS.filter(({ name }) => values.target === undefined || name === values.target);
if (!(seconds > 0) || !Number.isSafeInteger(seed) || chosen.length === 0) {
  console.error(
    `Give --seconds above 0, a whole --seed, and a --target: ${TARGETS.map(({ name }) => name).join(', ')}.`,
  );
  process.exit(2);
}

const RSS_MAX_MB = 300;
/**
 * An input may take long on a busy machine; one that takes this long never ends. Ticks of the watch are counted, and none while
 * the process is stopped: neither a suspended machine nor a SIGSTOP is a hang.
 */
const HANGS_AFTER_S = 120;
/** How long a process that hangs has for its report: where its code is, and which handles are open. */
const REPORT_WITHIN_S = 10;
/** What the service sets itself. */
const MEMORY_FLAGS = [
  '--optimize-for-size',
  '--heap-growing-percent=10',
  '--flush-baseline-code',
  '--bytecode-old-age=2',
];
/** Most of the time would be spent on waiting for the disk, which answers nothing different in memory. */
const IN_MEMORY = '/dev/shm';
const FOLDER = new URL('../../fuzz/', import.meta.url);

type FromChild = { readonly index: number; readonly units: number } | 'closing' | { readonly report: FuzzReport };

if (values.child) {
  const report = await fuzz(chosen[0]!, seed, {
    seconds,
    blockedMaxMs: chosen[0]!.blockedMaxMs ?? BLOCKED_MAX_MS,
    rssMaxMb: RSS_MAX_MB,
    started: (index, units) => process.send?.({ index, units } satisfies FromChild),
    closing: () => process.send?.('closing' satisfies FromChild),
  });
  process.send?.({ report } satisfies FromChild, () => process.exit(0));
} else {
  let count = 0;
  for (const { name, unit } of chosen) {
    const { report, units, findings } = await inOwnProcess(name);
    count += findings.length;
    const figures =
      report === null
        ? `ended after ${units} ${unit}`
        : `${report.units} ${unit} in ${report.cases} cases, ${report.seconds.toFixed(0)} s; longest ${report.longestMs.toFixed(0)} ms, ${report.rssMb.toFixed(0)} MB`;
    process.stdout.write(`${name}: ${figures}; ${findings.length} findings\n`);
    for (const finding of findings) keep(name, finding);
  }
  process.exit(count > 0 ? 1 : 0);
}

interface Ended {
  /** null = the process did not get to it. */
  readonly report: FuzzReport | null;
  readonly units: number;
  readonly findings: readonly Finding[];
}

async function inOwnProcess(target: string): Promise<Ended> {
  const args = ['--child', '--target', target, '--seed', String(seed), '--seconds', String(seconds)];
  const env = existsSync(IN_MEMORY) ? { ...process.env, TMPDIR: IN_MEMORY } : process.env;
  mkdirSync(FOLDER, { recursive: true });
  // Looking up the names of addresses takes long where there is no network.
  const reporting = ['--report-on-signal', '--report-exclude-network', `--report-directory=${fileURLToPath(FOLDER)}`];
  const child = fork(fileURLToPath(import.meta.url), args, {
    execArgv: [...startedWith().nodeOptions, ...MEMORY_FLAGS, ...reporting],
    env,
  });
  let report: FuzzReport | null = null;
  let [index, units] = [-1, 0];
  let [silentS, isClosing] = [0, false];
  child.on('message', (message: FromChild) => {
    silentS = 0;
    if (message === 'closing') isClosing = true;
    else if ('report' in message) report = message.report;
    else ({ index, units } = message);
  });
  const watch = setInterval(() => {
    if (!isStopped(child.pid)) silentS += 1;
    if (silentS === HANGS_AFTER_S) child.kill('SIGUSR2');
    if (silentS > HANGS_AFTER_S + REPORT_WITHIN_S) child.kill('SIGKILL');
  }, 1000);
  const [code, signal] = await new Promise<[number | null, string | null]>((resolve) =>
    child.once('close', (...ended) => resolve(ended)),
  );
  clearInterval(watch);
  const ended = report as FuzzReport | null;
  if (ended !== null) return { report: ended, units: ended.units, findings: ended.findings };
  const what =
    silentS > HANGS_AFTER_S
      ? `It hangs for ${HANGS_AFTER_S} s${isClosing ? ' while it is closed, after all cases' : ''}; the report of the process is in the same folder.`
      : `The process ended with ${code ?? signal}.`;
  return { report: null, units, findings: [{ seed, index, what, input: null }] };
}

/** By SIGSTOP, as its state in /proc says. */
function isStopped(pid: number | undefined): boolean {
  const path = `/proc/${pid}/stat`;
  const stat = existsSync(path) ? readFileSync(path, 'latin1') : '';
  return stat.charAt(stat.lastIndexOf(')') + 2) === 'T';
}

function keep(target: string, { seed, index, what, input }: Finding): void {
  const path = fileURLToPath(new URL(`${target}-${seed}-${index}.json`, FOLDER));
  writeFileSync(path, JSON.stringify({ what, input }, null, 1));
  process.stdout.write(`\n--seed ${seed} --target ${target}, case ${index}: ${what}\n  kept in ${path}\n`);
}

#!/usr/bin/env -S MALLOC_ARENA_MAX=1 MALLOC_TRIM_THRESHOLD_=65536 node --max-semi-space-size=1 --v8-pool-size=1 --no-concurrent-recompilation
/**
 * Composition root: command line (`command/`) → settings → parts (`assembly.ts`) → start → orderly stop.
 */
import { randomUUID } from 'node:crypto';
import { setTimeout as pause } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { setFlagsFromString } from 'node:v8';
import { readCommandLine } from './command/command-line.ts';
import { writeUnit } from './command/install-service.ts';
import { invitationText } from './command/invitation-text.ts';
import { rememberAddresses } from './command/known-addresses.ts';
import { localTimeZone } from './command/local-time-zone.ts';
import { reportToSystemd } from './command/systemd-notify.ts';
import { isOfRealLine } from './entities/run.ts';
import { askForDiagnosis, askForInvitation } from './identity/pairing-socket.ts';
import { messageOf, Problem } from './problem/problem.ts';
import type { StartupSettings } from './settings/startup-settings.ts';
import { VERSION } from './version.ts';
import { watchEventLoop } from './worker/event-loop-watch.ts';
import { awaitAnswer, isAsking } from './worker/hanging-path.ts';
import { hasStuckThread } from './worker/open-worker.ts';

/**
 * Of the engine: the heap grows in small steps, and code that is not run goes early. Every thread gets these. A function that
 * is optimized on another thread may need a collection; if its own thread is just ending, both wait for ever (nodejs/node#54918).
 */
const ENGINE_FLAGS = [
  '--no-concurrent-recompilation',
  '--optimize-for-size',
  '--heap-growing-percent=10',
  '--flush-baseline-code',
  '--bytecode-old-age=2',
];
for (const flag of ENGINE_FLAGS) setFlagsFromString(flag);

const STOP_WITHIN_MS = 10_000;
const PAGE_FOLDER = fileURLToPath(new URL('../web/', import.meta.url));

const print = (line: string) => process.stdout.write(`${line}\n`);
const report = (line: string) => process.stderr.write(`${line}\n`);

async function awaitFolders(folders: readonly string[], say: (line: string) => void): Promise<void> {
  for (const folder of folders) await awaitAnswer(folder, (why) => say(`Waiting for ${folder}: ${why}`));
}

/** A command loads only its own parts: loading all of them takes most of the time of a start. */
async function main(): Promise<void> {
  const { request, advice } = readCommandLine(process.argv.slice(2), process.env);
  if (advice !== null) report(`strandward: ${advice}`);
  if ('dataFolder' in request) await awaitFolders([request.dataFolder], report);
  switch (request.kind) {
    case 'print':
      print(request.text);
      return;
    case 'watch':
      return watch(request.settings, request.examples);
    case 'pair': {
      const invitation = await askForInvitation(request.dataFolder, request.right);
      print(invitationText(invitation, request.address, process.stdout.isTTY));
      return;
    }
    case 'import': {
      const [{ importRecording }, { foldersOfUpdate }] = await Promise.all([
        import('./recording/import-command.ts'),
        import('./store/index.ts'),
      ]);
      await awaitFolders(foldersOfUpdate(request.dataFolder, null), report);
      const runs = await importRecording(request, localTimeZone(process.env), report);
      print(`Imported ${request.file} as run ${runs.join(', ')}.`);
      return;
    }
    case 'backup': {
      const { backUpFolder } = await import('./store/index.ts');
      const backup = await backUpFolder(request.dataFolder, request.backupFolder, Date.now());
      print(`Made a backup of ${request.dataFolder}: ${backup.path}`);
      return;
    }
    case 'restore': {
      const { restoreBackup } = await import('./store/index.ts');
      const leftOut = request.withoutDamagedRuns ? (what: string) => report(`Left out ${what}.`) : undefined;
      const old = restoreBackup(request.dataFolder, request.backup, Date.now(), leftOut);
      print(`Restored ${request.backup} into ${request.dataFolder}.`);
      if (old !== null) print(`The record that was there is kept as ${old}.`);
      return;
    }
    case 'collect': {
      const { collectRuns } = await import('./collection/collect-runs.ts');
      const { total, added, changed, removed } = await collectRuns(request, report);
      print(
        `${request.folder} has ${total} runs of this line: ${added} added, ${changed} replaced, ${removed} removed.`,
      );
      return;
    }
    case 'doctor':
      return diagnose(request.dataFolder);
    case 'installService':
      print(writeUnit(request));
      return;
    case 'simulate': {
      const { simulate } = await import('../simulator/command/simulate.ts');
      process.exitCode = await simulate(request.args);
      return;
    }
    default:
      request satisfies never;
  }
}

async function diagnose(dataFolder: string): Promise<void> {
  let line: string;
  try {
    print(await askForDiagnosis(dataFolder));
    return;
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
    line = thrown.message;
  }
  const [{ diagnosis, diagnosisWithoutRecord }, { listFolder, openStore }] = await Promise.all([
    import('./monitor/diagnosis.ts'),
    import('./store/index.ts'),
  ]);
  const parts = { version: VERSION, nowMs: Date.now(), dataFolder };
  try {
    const store = openStore({ folder: dataFolder, readOnly: true, readers: 'sameThread' });
    try {
      print(diagnosis({ ...parts, store, line }));
    } finally {
      await store.close();
    }
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
    const why = [line, thrown.message, thrown.remedy];
    print(diagnosisWithoutRecord({ ...parts, why, files: listFolder(dataFolder) }));
    process.exitCode = thrown.exitCode;
  }
}

const usesFiles = () => isAsking() || process.getActiveResourcesInfo().some((name) => name.startsWith('FSReq'));

/** An ordinary exit would wait for a thread that is stuck, or uses a file on a drive that hangs. */
async function leave(exitCode: number | string | undefined): Promise<void> {
  // Most are just being closed.
  for (let i = 0; i < 20 && usesFiles(); i++) await pause(50);
  if (hasStuckThread() || usesFiles()) process.kill(process.pid, 'SIGKILL');
  // Nothing is lost from the log, because it is written synchronously.
  process.exit(exitCode);
}

async function watch(startup: StartupSettings, examples: boolean): Promise<void> {
  // The line is also watched when no one reads the log any more.
  for (const output of [process.stdout, process.stderr]) output.on('error', () => {});
  if (startup.accessKey !== null) {
    const { refuseGuessable } = await import('./api/guessable-key.ts');
    await refuseGuessable(startup.accessKey);
  }
  rememberAddresses();
  // Files of uploads and exports are for this user only, like the record.
  process.umask(0o077);
  const [{ assemble }, { foldersOfUpdate }, { serviceLog }, { recoverSavedSettings }, { unusableFolders }] =
    await Promise.all([
      import('./assembly.ts'),
      import('./store/index.ts'),
      import('./command/service-log.ts'),
      import('./settings/check-line-settings.ts'),
      import('./source/permitted-source.ts'),
    ]);
  const { logger, log } = serviceLog(startup.logLevel, process.stdout);
  const say = (line: string) => log.warn(line);
  const { dataFolder, backupFolder, https } = startup;
  await awaitFolders([dataFolder, ...(https?.kind === 'own-ca' ? [https.folder] : [])], say);
  await awaitFolders(foldersOfUpdate(dataFolder, backupFolder), say);
  const timeZone = localTimeZone(process.env, (name) =>
    log.warn(`The time zone “${name}” is unknown, so all local times are UTC. Set TZ to a name such as Europe/Berlin.`),
  );
  const service = await assemble({
    startup,
    settings: ({ writer, reader }) => {
      const lastRealSource = () =>
        startup.source === null ? (reader.runs().find(isOfRealLine)?.sourceTitle ?? null) : null;
      const { problems, ...recovered } = recoverSavedSettings(writer.loadLineSettings(), timeZone, lastRealSource);
      for (const problem of problems) {
        log.warn(problem);
        writer.log({ timeMs: Date.now(), runId: null, who: 'service', what: problem });
      }
      return recovered;
    },
    timeZone,
    boot: randomUUID(),
    pageFolder: PAGE_FOLDER,
    log,
    logger,
    stalled: (problem) => void stop(`${problem.message} ${problem.remedy}`, problem.exitCode),
  });

  let stopping = false;
  const stop = async (why: string, exitCode: number) => {
    // A second request ends at once, because everything written is safe.
    if (stopping) return leave(1);
    stopping = true;
    if (exitCode === 0) log.info(`Stopping: ${why}`);
    else log.error(`Stopping: ${why}`);
    setTimeout(() => void leave(exitCode || 1), STOP_WITHIN_MS).unref();
    try {
      await service.stop();
    } catch (thrown) {
      log.error('The stop was not clean', { why: messageOf(thrown) });
      process.exitCode = exitCode || 1;
    }
    process.exitCode ??= exitCode;
    await leave(process.exitCode);
  };
  process.on('SIGINT', () => stop('interrupted.', 0));
  process.on('SIGTERM', () => stop('termination requested.', 0));
  process.on('SIGHUP', () => stop('the terminal was closed.', 0));
  process.on('uncaughtException', (thrown) => {
    logger.fatal({ err: thrown }, 'Uncaught exception');
    void stop('uncaught exception.', 1);
  });
  service.start();
  void unusableFolders(startup).then((found) => found.forEach(say));
  if (examples) service.makeExamples();
  const warn = (message: string, facts: object) => log.warn(message, facts);
  // A thread takes 9 MB.
  if (!reportToSystemd(process.env, warn)) watchEventLoop(warn);
  // Printed last: from here on a signal stops the service in order.
  print(`Strandward is watching. Open ${service.address}`);
  if (service.certificatePage !== null) {
    print(`To use HTTPS, other devices first install the certificate of the house: ${service.certificatePage}`);
    print(`Its fingerprint (SHA-256): ${service.fingerprint}`);
  }
  // Otherwise no device could use the address that it listens on.
  if (service.needsFirstDevice) print(invitationText(service.invite('manage'), null, process.stdout.isTTY));
}

main().catch(async (thrown: unknown) => {
  if (thrown instanceof Problem) {
    console.error(`strandward: ${thrown.message}\n${thrown.remedy}`);
    return leave(thrown.exitCode);
  }
  console.error(thrown);
  process.exit(1);
});

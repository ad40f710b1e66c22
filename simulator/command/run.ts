/** Runs the command. */

import { closeSync, openSync, writeSync } from 'node:fs';
import type { Writable } from 'node:stream';
import type { TruthEvent } from '../model/truth.ts';
import { createPacedRun } from '../pace.ts';
import { SCENARIOS } from '../scenarios/index.ts';
import { createSimulation, type Simulation } from '../simulation.ts';
import { SimulatorInputError } from '../simulator-input-error.ts';
import { type Command, HELP, parseOptions, type RunOptions } from './options.ts';
import { PtyOutlet } from './pty-outlet.ts';
import { StdoutOutlet } from './stdout-outlet.ts';
import type { Outlet } from './target.ts';
import { TcpOutlet } from './tcp-outlet.ts';

export interface CommandStreams {
  readonly stdout: Writable;
  readonly stderr: { write(text: string): unknown };
  /** Ends the run properly. */
  readonly stop: AbortSignal;
}

/** @returns the exit code: 0 = done or stopped, 1 = failed, 2 = wrong arguments */
export async function runCommand(args: readonly string[], streams: CommandStreams): Promise<number> {
  const printError = (error: unknown) =>
    void streams.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  let command: Command;
  try {
    command = parseOptions(args);
  } catch (error) {
    if (!(error instanceof SimulatorInputError)) throw error;
    printError(error);
    return 2;
  }
  if (command.do === 'help') streams.stdout.write(HELP);
  else if (command.do === 'list') streams.stdout.write(scenarioTable());
  else {
    try {
      await runSimulation(command, streams);
    } catch (error) {
      printError(error);
      return 1;
    }
  }
  return 0;
}

async function runSimulation(options: RunOptions, streams: CommandStreams): Promise<void> {
  const truth = openTruth(options.truthFile);
  const { durationS } = options;
  const simulation = createSimulation({ ...options, onTruth: truth.write });
  const outlet = createOutlet(options, simulation, streams);
  try {
    const place = await outlet.open();
    if (place !== null) streams.stderr.write(`${place}\n`);
    await new Promise<void>((resolve, reject) => {
      const end = (failure: unknown) => void (failure === undefined ? resolve() : reject(failure));
      const run = createPacedRun({
        simulation,
        pace: options.pace,
        ...(durationS === null ? {} : { durationS }),
        onChunk: (chunk) => outlet.write(chunk),
        onEnd: end,
      });
      void outlet.ended.then((failure) => {
        void run.stop();
        end(failure);
      });
      const stop = () => {
        void run.stop();
        end(undefined);
      };
      if (streams.stop.aborted) return stop();
      streams.stop.addEventListener('abort', stop, { once: true });
      run.start();
    });
  } finally {
    await outlet.close();
    simulation.finish();
    truth.close();
  }
}

function createOutlet(options: RunOptions, simulation: Simulation, streams: CommandStreams): Outlet {
  const { target } = options;
  const waits = options.pace === 'max';
  switch (target.to) {
    case 'stdout':
      return new StdoutOutlet(streams.stdout);
    case 'tcp':
      return new TcpOutlet({ host: target.host, port: target.port, header: simulation.header, waits });
    case 'pty':
      return new PtyOutlet(target.link, waits);
  }
}

/** Events are few and must not be lost when the run ends, so they are written immediately. */
function openTruth(path: string | null): { write: (event: TruthEvent) => void; close: () => void } {
  if (path === null) return { write: () => {}, close: () => {} };
  let file: number;
  try {
    file = openSync(path, 'w');
  } catch (error) {
    const reason = error instanceof Error ? error.message : String(error);
    throw new Error(`Cannot write the truth to ${path}: ${reason}. Choose a path in an existing folder.`);
  }
  return {
    write: (event) => void writeSync(file, `${JSON.stringify(event)}\n`),
    close: () => closeSync(file),
  };
}

function scenarioTable(): string {
  const width = Math.max(...[...SCENARIOS.keys()].map((name) => name.length));
  let text = '';
  for (const { name, title, description, durationS } of SCENARIOS.values()) {
    const length = durationS === null ? 'no end' : `${Math.round(durationS / 60)} min`;
    text += `${name.padEnd(width)}  ${title} (${length})\n${' '.repeat(width)}  ${description}\n`;
  }
  return text;
}

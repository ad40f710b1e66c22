import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync, gzipSync } from 'node:zlib';
import { Problem } from '../../server/problem/problem.ts';
import { surveyLog } from '../../server/reading/log-survey.ts';
import {
  checkLineSettings,
  defaultLineSettings,
  recoverLineSettings,
} from '../../server/settings/check-line-settings.ts';
import { LineSettings } from '../../server/settings/line-settings.ts';
import type { Chooser } from './chooser.ts';
import { type Cell, cellsOf, damage, damagingStatement } from './damaged-tables.ts';
import { type FedService, startFedService } from './fed-service.ts';
import type { FuzzTarget } from './fuzz.ts';
import { mutated } from './line-mutation.ts';
import { printedLines } from './printed-lines.ts';
import { type JsonSchema, madeValue } from './schema-values.ts';

type ImportInput =
  | { readonly what: 'settings'; readonly json: string }
  | { readonly what: 'log'; readonly head: string; readonly tail: string; readonly changedMs: number | null }
  /** Statements on the tables of a genuine archive, then bytes changed in its file. */
  | {
      readonly what: 'archive';
      readonly sql: readonly string[];
      readonly bytes: readonly (readonly [number, number])[];
    };

const ARCHIVE_TYPE = 'application/vnd.strandward.run';
const ARCHIVES_EACH = 100;
const START_MS = Date.UTC(2026, 2, 14, 19);

/** What is imported from files: settings of another version, logs, archives of runs; and all pages of an imported run. */
export const importTarget: FuzzTarget<ImportInput> = {
  name: 'import',
  unit: 'files',
  casesInTest: 30,
  async open() {
    const folder = mkdtempSync(join(tmpdir(), 'strandward-fuzz-'));
    const genuine = join(folder, 'genuine.sqlite');
    let service = await startFedService();
    service.monitor.setStage('stopped', 'test');
    await service.monitor.stop();
    writeFileSync(genuine, gunzipSync((await service.bytes('/api/runs/1/archive')).bytes));
    const boards = printedLines();
    const cells = cellsOf(genuine);
    let archives = 0;
    const attempt = async (input: ImportInput) => {
      if (input.what === 'settings') trySettings(input.json);
      else if (input.what === 'log') tryLog(input.head, input.tail, input.changedMs);
      else {
        if (archives++ >= ARCHIVES_EACH) {
          await service.stop();
          service = await startFedService();
          archives = 0;
        }
        await tryArchive(service, changedArchive(genuine, join(folder, 'changed.sqlite'), input));
      }
      return 1;
    };
    return {
      make: (choose) => {
        const kind = choose.below(40);
        if (kind < 18) return { what: 'settings', json: settingsOf(choose) };
        return kind < 38 ? logOf(choose, boards) : archiveOf(choose, cells, readFileSync(genuine).length);
      },
      attempt,
      close: async () => {
        await service.stop();
        rmSync(folder, { recursive: true, force: true });
      },
    };
  },
};

function settingsOf(choose: Chooser): string {
  const value = madeValue(LineSettings as JsonSchema, choose, {}, choose.oneOf([0, 0.02, 0.2]));
  return JSON.stringify(choose.chance(0.5) ? { ...defaultLineSettings(), ...(value as object) } : value) ?? 'null';
}

function trySettings(json: string): void {
  const saved: unknown = JSON.parse(json);
  try {
    checkLineSettings(saved, defaultLineSettings());
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
  }
  const { settings } = recoverLineSettings(saved);
  // What has been recovered needs no more recovery.
  checkLineSettings(settings, defaultLineSettings());
}

function logOf(choose: Chooser, boards: readonly (readonly string[])[]): ImportInput {
  const board = choose.oneOf(boards);
  const share = choose.oneOf([0.02, 0.3]);
  const stamp = choose.oneOf(['', '', '12:00:0# ', '2026-03-14 19:00:0# ', '[1710000#] ']);
  const lineEnd = choose.oneOf(['\n', '\r\n']);
  const piece = (from: number, count: number) =>
    board
      .slice(from, from + count)
      .map((line, i) => stamp.replace('#', String(i % 10)) + line)
      .map((line) => (choose.chance(share) ? mutated(line, choose, choose.oneOf(choose.oneOf(boards))) : line))
      .join(lineEnd);
  const head = choose.chance(0.05)
    ? Buffer.from(choose.bytes(500)).toString('latin1')
    : piece(0, 10 + choose.below(150));
  return {
    what: 'log',
    head,
    tail: choose.chance(0.3) ? '' : piece(100, choose.below(100)),
    changedMs: choose.oneOf([null, START_MS, 0, 8.64e15]),
  };
}

function tryLog(head: string, tail: string, changedMs: number | null): void {
  const rules = defaultLineSettings();
  const survey = surveyLog(Buffer.from(head, 'latin1'), Buffer.from(tail, 'latin1'), rules, changedMs);
  if ('found' in survey) {
    if (survey.found === '' || survey.remedy === '') throw new Error('A refused log has no explanation.');
    return;
  }
  const { rateHz, spanMs, startMs } = survey;
  const wrong = [rateHz, spanMs, startMs].find((figure) => figure !== null && !Number.isFinite(figure));
  if (wrong !== undefined || (rateHz ?? 1) <= 0 || (spanMs ?? 0) < 0)
    throw new Error(`A log has ${rateHz} lines a second, lasts ${spanMs} ms and starts at ${startMs}.`);
}

function archiveOf(choose: Chooser, cells: readonly Cell[], size: number): ImportInput {
  const damaged = choose.chance(0.2);
  return {
    what: 'archive',
    sql: damaged ? [] : Array.from({ length: 1 + choose.below(3) }, () => damagingStatement(choose, cells)),
    bytes: damaged
      ? Array.from({ length: 1 + choose.below(20) }, () => [choose.below(size), choose.below(256)] as const)
      : [],
  };
}

function changedArchive(
  genuine: string,
  file: string,
  { sql, bytes }: Extract<ImportInput, { what: 'archive' }>,
): Buffer {
  copyFileSync(genuine, file);
  damage(file, sql);
  const content = readFileSync(file);
  for (const [at, byte] of bytes) content[at] = byte;
  return content;
}

/** Whatever is accepted can be shown: no page of the run fails. */
async function tryArchive(service: FedService, content: Buffer): Promise<void> {
  const reply = await fetch(`${service.address}/api/runs/import?again=true`, {
    method: 'POST',
    headers: { 'content-type': ARCHIVE_TYPE },
    body: gzipSync(content, { level: 1 }) as unknown as BodyInit,
  });
  const answer = (await reply.json()) as { id: number; code: string; title: string };
  if (reply.status === 422 && answer.code === 'bad-archive') return;
  if (reply.status !== 201) throw new Error(`The archive was answered with ${reply.status} ${JSON.stringify(answer)}.`);
  const { id } = answer;
  const detail = JSON.parse(await shown(service, `/api/runs/${id}`)) as { spools: readonly { id: number }[] };
  const pages = ['summary', 'alarm-journal', 'export?format=jsonl', 'archive'].map((page) => `/api/runs/${id}/${page}`);
  const spools = detail.spools.flatMap(({ id: spool }) =>
    ['', '/judgement', '/cut-plan', '/steadiness', '/reel', '/spectrum', '/coils'].map(
      (page) => `/api/spools/${spool}${page}`,
    ),
  );
  for (const path of ['/api/runs', '/api/state', '/api/alarm-journal', ...pages, ...spools]) await shown(service, path);
}

async function shown(service: FedService, path: string): Promise<string> {
  const { status, bytes } = await service.bytes(path);
  const text = Buffer.from(bytes).toString();
  if (status >= 500) throw new Error(`${path} of an imported run: ${status} ${text.slice(0, 400)}`);
  return text;
}

import { createHash } from 'node:crypto';
import { closeSync, existsSync, fsyncSync, openSync } from 'node:fs';
import { copyFile, mkdir, open, readdir, readFile, rename, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { asyncBufferFromFile, parquetMetadataAsync } from 'hyparquet';
import { messageOf, Problem } from '../problem/problem.ts';

const MANIFEST = 'manifest.json';
const MANIFEST_FORMAT = 1;
/** Starts with a point, so no engine takes it for a part of the data. */
const UNFINISHED = '.unfinished';
/** A run that is just being replaced. */
const REPLACED = '.replaced';

/** A file of a run, as it was written and read back. */
export interface CollectedFile {
  readonly rows: number;
  readonly bytes: number;
  readonly sha256: string;
}

/** A new file, and how many rows it must have. */
export interface NewFile {
  readonly bytes: AsyncIterable<Uint8Array> | Iterable<Uint8Array>;
  readonly rows: number;
}

/** `old`: the file as it is in the collection. */
export type FileContent = NewFile | 'old';

/** A run in the collection. `files`: by name. */
export interface CollectedRun {
  readonly id: number;
  readonly startedMs: number;
  readonly files: CollectedFiles;
}

interface Manifest {
  readonly format: number;
  readonly house: string;
  readonly line: string;
  /** Of all runs together, by name. */
  readonly files: CollectedFiles;
  readonly runs: readonly CollectedRun[];
}

type CollectedFiles = Readonly<Record<string, CollectedFile>>;

/**
 * The runs of one line below a folder: `line=…/month=…/run=…/`, each with its files, files about all of them in `line=…/`, and
 * `line=…/manifest.json`, which names each file. A run appears as a whole, by renaming its folder, and only after all its files were read back.
 */
export class CollectionFolder {
  readonly #folder: string;
  readonly #house: string;
  readonly #line: string;
  #files: CollectedFiles;
  #runs: ReadonlyMap<number, CollectedRun>;

  private constructor(folder: string, { house, line, files, runs }: Manifest) {
    this.#folder = folder;
    this.#house = house;
    this.#line = line;
    this.#files = files;
    this.#runs = new Map(runs.map((run) => [run.id, run]));
  }

  /**
   * Opens what there is of a line, also if the line had another name then.
   * @param house the code of the line's record
   * @throws Problem `collection-failed` if another line of this name is there, or the folder cannot be used
   */
  static open(folder: string, house: string, line: string): Promise<CollectionFolder> {
    return orProblem(folder, async () => {
      await mkdir(folder, { recursive: true });
      const wanted = join(folder, `line=${encodeURIComponent(line)}`);
      let there = await readManifest(wanted);
      if (there !== null && there.house !== house) {
        throw new Problem(
          'collection-failed',
          `${folder} already has another line called “${line}”, whose labels start with ${there.house} and not with ${house}.`,
          'Give one of the two lines another name under Set-up, or use another folder.',
        );
      }
      if (there === null) {
        for (const name of await readdir(folder)) {
          const old = await readManifest(join(folder, name));
          if (old?.house !== house) continue;
          await rename(join(folder, name), wanted);
          there = old;
          break;
        }
      }
      await mkdir(wanted, { recursive: true });
      const manifest = there ?? { format: MANIFEST_FORMAT, house, line, files: {}, runs: [] };
      const collection = new CollectionFolder(wanted, { ...manifest, line });
      await collection.#tidy();
      if (manifest.line !== line) await collection.#writeManifest();
      return collection;
    });
  }

  get runs(): ReadonlyMap<number, CollectedRun> {
    return this.#runs;
  }

  /** Files about all runs together, by name. */
  get files(): CollectedFiles {
    return this.#files;
  }

  /** Adds or replaces a file about all runs together. */
  putFile(name: string, content: NewFile): Promise<void> {
    return orProblem(this.#folder, async () => {
      const unfinished = join(this.#folder, `${UNFINISHED}-${name}`);
      const file = await writeChecked(unfinished, content);
      await rename(unfinished, join(this.#folder, name));
      this.#files = { ...this.#files, [name]: file };
      await this.#writeManifest();
    });
  }

  /**
   * Adds a run, or replaces it.
   * @param contents of its files, by name
   * @returns the run as collected
   */
  put(id: number, startedMs: number, contents: ReadonlyMap<string, FileContent>): Promise<CollectedRun> {
    return orProblem(this.#folder, async () => {
      const [unfinished, place] = [join(this.#folder, UNFINISHED), this.#placeOf(id, startedMs)];
      const before = this.#runs.get(id);
      await rm(unfinished, { recursive: true, force: true });
      await mkdir(unfinished);
      const files: Record<string, CollectedFile> = {};
      for (const [name, content] of contents) {
        const file = join(unfinished, name);
        files[name] = content === 'old' ? await this.#copy(before, name, file) : await writeChecked(file, content);
      }
      syncFolder(unfinished);
      const run: CollectedRun = { id, startedMs, files };
      const replaced = join(this.#folder, REPLACED);
      await mkdir(dirname(place), { recursive: true });
      if (before !== undefined) await rename(this.#placeOf(id, before.startedMs), replaced);
      // What an interrupted call moved in, but no longer named.
      await rm(place, { recursive: true, force: true });
      await rename(unfinished, place);
      syncFolder(dirname(place));
      this.#runs = new Map([...this.#runs, [id, run]]);
      await this.#writeManifest();
      await rm(replaced, { recursive: true, force: true });
      return run;
    });
  }

  remove(id: number): Promise<void> {
    return orProblem(this.#folder, async () => {
      const run = this.#runs.get(id);
      if (run === undefined) return;
      // The manifest first: what it names is there.
      this.#runs = new Map([...this.#runs].filter(([one]) => one !== id));
      await this.#writeManifest();
      await rm(this.#placeOf(id, run.startedMs), { recursive: true, force: true });
    });
  }

  async #copy(run: CollectedRun | undefined, name: string, file: string): Promise<CollectedFile> {
    const old = run?.files[name];
    if (run === undefined || old === undefined) throw new TypeError(`There is no ${name} to keep`);
    await copyFile(join(this.#placeOf(run.id, run.startedMs), name), file);
    return readBack(file, old);
  }

  /** Ends what was interrupted. A run whose old folder was moved away, but whose new one was not moved in, gets the old one back. */
  async #tidy(): Promise<void> {
    const replaced = join(this.#folder, REPLACED);
    await rm(join(this.#folder, UNFINISHED), { recursive: true, force: true });
    if (!existsSync(replaced)) return;
    const missing = [...this.#runs.values()].find(({ id, startedMs }) => !existsSync(this.#placeOf(id, startedMs)));
    if (missing === undefined) await rm(replaced, { recursive: true, force: true });
    else await rename(replaced, this.#placeOf(missing.id, missing.startedMs));
  }

  #placeOf(id: number, startedMs: number): string {
    const month = new Date(startedMs).toISOString().slice(0, 7);
    return join(this.#folder, `month=${month}`, `run=${id}`);
  }

  async #writeManifest(): Promise<void> {
    const runs = [...this.#runs.values()].sort((a, b) => a.id - b.id);
    const manifest: Manifest = {
      format: MANIFEST_FORMAT,
      house: this.#house,
      line: this.#line,
      files: this.#files,
      runs,
    };
    const unfinished = join(this.#folder, `${UNFINISHED}.json`);
    await write(unfinished, [Buffer.from(`${JSON.stringify(manifest, null, 1)}\n`)]);
    await rename(unfinished, join(this.#folder, MANIFEST));
    syncFolder(this.#folder);
  }
}

/** null = there is none. @throws Problem `collection-failed` for one that is damaged or newer */
async function readManifest(folder: string): Promise<Manifest | null> {
  const file = join(folder, MANIFEST);
  if (!existsSync(file)) return null;
  const refuse = (what: string) =>
    new Problem('collection-failed', `${file} ${what}.`, 'Use another folder, or the version that wrote it.');
  let manifest: Partial<Manifest>;
  try {
    manifest = JSON.parse(await readFile(file, 'utf8')) as Partial<Manifest>;
  } catch (thrown) {
    throw refuse(`cannot be read: ${messageOf(thrown)}`);
  }
  if (manifest.format !== MANIFEST_FORMAT || typeof manifest.house !== 'string' || !Array.isArray(manifest.runs))
    throw refuse('is not a list of runs that this version understands');
  return manifest as Manifest;
}

async function writeChecked(file: string, { bytes, rows }: NewFile): Promise<CollectedFile> {
  return readBack(file, { sha256: await write(file, bytes), rows });
}

/** Writes a new file, to the disk. @returns SHA-256 of its content */
async function write(file: string, content: NewFile['bytes']): Promise<string> {
  const hash = createHash('sha256');
  const handle = await open(file, 'w');
  try {
    for await (const bytes of content) {
      hash.update(bytes);
      await handle.writeFile(bytes);
    }
    await handle.sync();
  } finally {
    await handle.close();
  }
  return hash.digest('hex');
}

/** Reads a file from the disk again. @throws if it is not what was written, or not a Parquet file with these rows */
async function readBack(file: string, wanted: Pick<CollectedFile, 'sha256' | 'rows'>): Promise<CollectedFile> {
  const hash = createHash('sha256');
  let bytes = 0;
  const handle = await open(file, 'r');
  for await (const chunk of handle.createReadStream()) {
    hash.update(chunk as Uint8Array);
    bytes += (chunk as Uint8Array).length;
  }
  const refuse = (what: string) =>
    new Problem(
      'collection-failed',
      `${file} ${what}.`,
      'Run the command again. If it says the same, look for a fault of the disk.',
    );
  if (hash.digest('hex') !== wanted.sha256) throw refuse('is not as it was written');
  const rows = Number((await parquetMetadataAsync(await asyncBufferFromFile(file))).num_rows);
  if (rows !== wanted.rows) throw refuse(`has ${rows} rows instead of ${wanted.rows}`);
  return { rows, bytes, sha256: wanted.sha256 };
}

/** A renamed file is safe from a power cut once its folder is on the disk. Some mounts cannot do that. */
function syncFolder(folder: string): void {
  const handle = openSync(folder, 'r');
  try {
    fsyncSync(handle);
  } catch (thrown) {
    if (!/EINVAL|ENOTSUP|EPERM/.test((thrown as NodeJS.ErrnoException).code ?? '')) throw thrown;
  } finally {
    closeSync(handle);
  }
}

async function orProblem<T>(folder: string, work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (thrown) {
    if (thrown instanceof Problem) throw thrown;
    throw new Problem(
      'collection-failed',
      `${folder} cannot be written: ${messageOf(thrown)}.`,
      'Check that the folder is there, that you may write to it, and that it has space. Then run the command again: it goes on where it stopped.',
      { cause: thrown },
    );
  }
}

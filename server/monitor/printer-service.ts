import type { Printer } from '../entities/printer.ts';
import { Problem } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { LINE_PRINTER_ID } from '../strand/verdict/printer-profile.ts';
import type { RecordWriter } from './ports/record.ts';
import type { SpoolStatements } from './ports/spool-statements.ts';
import { limitsFor, linePrinter } from './spool/printer-limits.ts';
import type { Clock } from './steady-clock.ts';

/** Where persons keep the printers that strand is judged for. */
export class PrinterService {
  readonly #parts: {
    readonly writer: RecordWriter;
    readonly statements: SpoolStatements;
    readonly clock: Clock;
    settings(): LineSettings;
  };

  constructor(parts: { writer: RecordWriter; statements: SpoolStatements; clock: Clock; settings(): LineSettings }) {
    this.#parts = parts;
  }

  /** The line's own limits first, then by name. */
  all(): readonly Printer[] {
    return [this.#ofLine(), ...this.#parts.statements.printers()];
  }

  /** @throws Problem unknown-printer */
  find(id: number): Printer {
    if (id === LINE_PRINTER_ID) return this.#ofLine();
    const printer = this.#parts.statements.printer(id);
    if (printer === null) {
      throw new Problem(
        'unknown-printer',
        `There is no printer ${id}.`,
        'Load the list of printers and choose one there.',
      );
    }
    return printer;
  }

  /** @throws Problem `bad-printer`, `bad-name` */
  add(printer: Omit<Printer, 'id'>, who: string): Printer {
    this.#check({ ...printer, id: -1 });
    const added = this.#parts.statements.addPrinter(tidy(printer), this.#parts.clock());
    this.#log(who, `Added the printer ${added.name}, ${limitsText(added)}.`);
    return added;
  }

  /** @throws Problem `unknown-printer`, `bad-printer`, `bad-name` */
  change(printer: Printer, who: string): Printer {
    refuseLine(printer.id);
    this.find(printer.id);
    this.#check(printer);
    const changed = { ...tidy(printer), id: printer.id };
    this.#parts.statements.changePrinter(changed, this.#parts.clock());
    this.#log(who, `Changed the printer ${changed.name} to ${limitsText(changed)}.`);
    return changed;
  }

  /** @throws Problem unknown-printer */
  remove(id: number, who: string): void {
    refuseLine(id);
    const { name } = this.find(id);
    this.#parts.statements.removePrinter(id, this.#parts.clock());
    this.#log(who, `Removed the printer ${name}.`);
  }

  #check(printer: Printer): void {
    const name = printer.name.trim();
    if (name === '') throw badName('The printer has no name.', 'Give it one.');
    const taken = this.all().some(
      (other) => other.id !== printer.id && other.name.toLowerCase() === name.toLowerCase(),
    );
    if (taken) throw badName(`There is a printer “${name}” already.`, 'Give another name.');
    limitsFor(printer, this.#parts.settings());
  }

  #ofLine(): Printer {
    return linePrinter(this.#parts.settings());
  }

  #log(who: string, what: string): void {
    this.#parts.writer.log({ timeMs: this.#parts.clock(), runId: null, who, what });
  }
}

function refuseLine(id: number): void {
  if (id !== LINE_PRINTER_ID) return;
  throw new Problem(
    'wrong-state',
    'The limits of this line are changed in its settings.',
    'Change them on the set-up page, or add a printer of its own.',
  );
}

function badName(what: string, remedy: string): Problem {
  return new Problem('bad-name', what, remedy, { pointer: '/name' });
}

function tidy(printer: Omit<Printer, 'id'>): Omit<Printer, 'id'> {
  return { ...printer, name: printer.name.trim(), note: printer.note.trim() };
}

function limitsText({ hotendLimitMm, leastFeedableMm, toleranceMm }: Omit<Printer, 'id'>): string {
  return `${leastFeedableMm} to ${hotendLimitMm} mm, tolerance ± ${toleranceMm} mm`;
}

import type { Printer } from '../entities/printer.ts';
import { Problem } from '../problem/problem.ts';
import type { LineSettings } from '../settings/line-settings.ts';
import { LINE_PRINTER_ID } from '../strand/verdict/printer-profile.ts';
import type { Clock } from './clock.ts';
import type { RecordWriter } from './ports/record.ts';
import type { SpoolStatements } from './ports/spool-statements.ts';
import { limitsFor, linePrinter } from './spool/printer-limits.ts';

export interface PrinterServiceParts {
  readonly writer: RecordWriter;
  readonly statements: SpoolStatements;
  readonly clock: Clock;
  settings(): LineSettings;
}

/** Manages the printers for which strand is judged. */
export class PrinterService {
  readonly #parts: PrinterServiceParts;

  constructor(parts: PrinterServiceParts) {
    this.#parts = parts;
  }

  /** The line's own limits first, then printers by name. */
  all(): readonly Printer[] {
    return [this.#linePrinter(), ...this.#parts.statements.printers()];
  }

  /** @throws Problem `unknown-printer` */
  find(id: number): Printer {
    if (id === LINE_PRINTER_ID) return this.#linePrinter();
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
    const added = this.#parts.statements.addPrinter(trimmed(printer), this.#parts.clock());
    this.#log(who, `Added the printer ${added.name}, ${limitsText(added)}.`);
    return added;
  }

  /** @throws Problem `unknown-printer`, `bad-printer`, `bad-name` */
  change(printer: Printer, who: string): Printer {
    refuseLine(printer.id);
    this.find(printer.id);
    this.#check(printer);
    const changed = { ...trimmed(printer), id: printer.id };
    this.#parts.statements.changePrinter(changed, this.#parts.clock());
    this.#log(who, `Changed the printer ${changed.name} to ${limitsText(changed)}.`);
    return changed;
  }

  /** @throws Problem `unknown-printer` */
  remove(id: number, who: string): void {
    refuseLine(id);
    const { name } = this.find(id);
    this.#parts.statements.removePrinter(id, this.#parts.clock());
    this.#log(who, `Removed the printer ${name}.`);
  }

  #check(printer: Printer): void {
    const name = printer.name.trim();
    if (name === '') throw badName('The printer has no name.', 'Give it one.');
    const isTaken = this.all().some(
      (other) => other.id !== printer.id && other.name.toLowerCase() === name.toLowerCase(),
    );
    if (isTaken) throw badName(`There is already a printer “${name}”.`, 'Give another name.');
    limitsFor(printer, this.#parts.settings());
  }

  #linePrinter(): Printer {
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
    'Change them on the Set-up page, or add a separate printer.',
  );
}

function badName(what: string, remedy: string): Problem {
  return new Problem('bad-name', what, remedy, { pointer: '/name' });
}

function trimmed(printer: Omit<Printer, 'id'>): Omit<Printer, 'id'> {
  return { ...printer, name: printer.name.trim(), note: printer.note.trim() };
}

function limitsText({ hotendLimitMm, smallestFeedableMm, toleranceMm }: Omit<Printer, 'id'>): string {
  return `${smallestFeedableMm} to ${hotendLimitMm} mm, tolerance ± ${toleranceMm} mm`;
}

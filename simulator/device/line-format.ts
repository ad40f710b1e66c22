/** How a device writes its readings: the three shapes of the reading-line contract. */

import type { Role } from '../../server/reading/names.ts';
import { checksumText, xorOf } from './checksum.ts';

export type LineShape = 'named' | 'json' | 'columns';

export const LINE_SHAPES: readonly LineShape[] = ['named', 'json', 'columns'];

/** The text of one field's value, from whatever the device holds now. */
type FieldText = () => string;

export interface FormatField {
  readonly role: Role;
  readonly text: FieldText;
  /** Slow fields change only with the slow clock; their text is kept until then. */
  readonly slow: boolean;
}

interface Style {
  readonly open: string;
  readonly close: string;
  readonly between: string;
  readonly label: (role: Role) => string;
}

const STYLES: Readonly<Record<LineShape, Style>> = {
  named: { open: '', close: '', between: ' ', label: (role) => `${role}=` },
  json: { open: '{', close: '}', between: ',', label: (role) => `"${role}":` },
  columns: { open: '', close: '', between: ',', label: () => '' },
};

/** A run of neighbouring fields that are all slow, or all not. */
class Segment {
  readonly #pieces: readonly {
    readonly before: string;
    readonly text: FieldText;
  }[];
  readonly slow: boolean;
  kept = '';
  keptSum = 0;

  constructor(slow: boolean, pieces: readonly { before: string; text: FieldText }[]) {
    this.slow = slow;
    this.#pieces = pieces;
  }

  text(): string {
    let text = '';
    for (const piece of this.#pieces) text += piece.before + piece.text();
    return text;
  }
}

export class LineFormat {
  /** The header line that names the columns, without line end; null where the shape has none. */
  readonly header: string | null;
  readonly #segments: Segment[] = [];
  readonly #close: string;
  readonly #closeSum: number;
  readonly #checksum: boolean;
  #slowStep = -1;

  constructor(shape: LineShape, checksum: boolean, fields: readonly FormatField[]) {
    const style = STYLES[shape];
    this.#checksum = checksum;
    this.#close = style.close;
    this.#closeSum = xorOf(style.close);
    const header = fields.map((field) => field.role).join(',');
    this.header = shape !== 'columns' ? null : checksum ? `${header}*${checksumText(xorOf(header))}` : header;
    let pieces: { before: string; text: FieldText }[] = [];
    for (const [i, field] of fields.entries()) {
      const before = (i === 0 ? style.open : style.between) + style.label(field.role);
      if (i > 0 && fields[i - 1]!.slow !== field.slow) {
        this.#segments.push(new Segment(fields[i - 1]!.slow, pieces));
        pieces = [];
      }
      pieces.push({ before, text: field.text });
    }
    if (fields.length > 0) this.#segments.push(new Segment(fields.at(-1)!.slow, pieces));
  }

  /** One line, without line end. @param slowStep number of the slow step that the slow fields are of */
  line(slowStep: number): string {
    const fresh = slowStep !== this.#slowStep;
    this.#slowStep = slowStep;
    let line = '';
    let sum = this.#closeSum;
    for (const segment of this.#segments) {
      if (!segment.slow || fresh) {
        segment.kept = segment.text();
        // The slow fields are most of the line: their share of the checksum is kept with their text.
        if (this.#checksum) segment.keptSum = xorOf(segment.kept);
      }
      line += segment.kept;
      sum ^= segment.keptSum;
    }
    line += this.#close;
    return this.#checksum ? `${line}*${checksumText(sum)}` : line;
  }
}

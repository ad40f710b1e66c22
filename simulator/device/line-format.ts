/** How a device writes its readings: the three shapes of the reading-line contract. */

export type LineShape = 'named' | 'json' | 'columns';

export const LINE_SHAPES: readonly LineShape[] = ['named', 'json', 'columns'];

/** Prints the current value of one field. */
type FieldText = () => string;

export interface FormatField {
  /** Usually its role. */
  readonly name: string;
  readonly text: FieldText;
  /** Slow fields change only with slow steps; their text is reused until the next one. */
  readonly slow: boolean;
}

interface Style {
  readonly open: string;
  readonly close: string;
  readonly between: string;
  readonly label: (name: string) => string;
}

const STYLES: Readonly<Record<LineShape, Style>> = {
  named: { open: '', close: '', between: ' ', label: (name) => `${name}=` },
  json: { open: '{', close: '}', between: ',', label: (name) => `"${name}":` },
  columns: { open: '', close: '', between: ',', label: () => '' },
};

/** Consecutive fields that are either all slow or all fast. */
class Segment {
  readonly #pieces: { readonly before: string; readonly text: FieldText }[] = [];
  readonly slow: boolean;
  /** The last text and the XOR of its bytes. */
  lastText = '';
  lastSum = 0;

  constructor(slow: boolean) {
    this.slow = slow;
  }

  add(before: string, text: FieldText): void {
    this.#pieces.push({ before, text });
  }

  text(): string {
    let text = '';
    for (const piece of this.#pieces) text += piece.before + piece.text();
    return text;
  }
}

export class LineFormat {
  /** The header line with the names of the columns, without line end; null = the shape has none. */
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
    const header = fields.map((field) => field.name).join(',');
    this.header = shape !== 'columns' ? null : checksum ? `${header}*${checksumText(xorOf(header))}` : header;
    let segment: Segment | null = null;
    for (const [i, field] of fields.entries()) {
      if (segment?.slow !== field.slow) {
        segment = new Segment(field.slow);
        this.#segments.push(segment);
      }
      segment.add((i === 0 ? style.open : style.between) + style.label(field.name), field.text);
    }
  }

  /** The current line, without line end. @param slowStep number of the current slow step */
  line(slowStep: number): string {
    const isNewSlowStep = slowStep !== this.#slowStep;
    this.#slowStep = slowStep;
    let line = '';
    let sum = this.#closeSum;
    for (const segment of this.#segments) {
      if (!segment.slow || isNewSlowStep) {
        segment.lastText = segment.text();
        // The slow fields are most of the line, so their share of the checksum is reused with their text.
        if (this.#checksum) segment.lastSum = xorOf(segment.lastText);
      }
      line += segment.lastText;
      sum ^= segment.lastSum;
    }
    line += this.#close;
    return this.#checksum ? `${line}*${checksumText(sum)}` : line;
  }
}

const HEX = Array.from({ length: 256 }, (_, i) => i.toString(16).toUpperCase().padStart(2, '0'));

/** XOR of a text's bytes, which is the XOR of the sums of its parts. @param text one character per byte (latin1) */
function xorOf(text: string): number {
  let sum = 0;
  for (let i = 0; i < text.length; i++) sum ^= text.charCodeAt(i);
  return sum & 0xff;
}

/** The checksum as IEC 61162-1 (NMEA 0183) writes it: two upper-case hex digits. */
function checksumText(sum: number): string {
  return `${HEX[sum]}`;
}

import type { FieldList } from './field-list.ts';
import { decoded } from './line-text.ts';
import { lastEnd } from './text-shape.ts';

/** What a field of free text is called, and the unit printed after it. */
export interface TextField {
  readonly name: string;
  /** '' = none. */
  readonly unit: string;
}

/** Units that stand behind a number, touching it or one blank away. */
const UNIT =
  /^ ?(mm\/s(?:ec)?|мм\/с|(?:mm|cm|m|in|ft)\/(?:min|s)|м\/мин|mm|cm|um|µm|μm|inch|in|mils?|thou|"|(?:°|º|deg ?)[CFK]|°|[CFK]|%|ms|us|sec|s|rpm|upm|bar|psi|мм|мкм|м|об\/мин|(?:U|tr|r)\/min|℃|℉|mA|A|mV|V|Hz|kg|g|m)(?![\p{L}\d]|\/\p{L}|\s*[=:])/u;

/** A picture stands for a word: "♨ 198.8". */
const WORD = /[\p{L}\d\p{Extended_Pictographic}]/u;

/** "198.8 -> 200": where the value is going, as behind a slash. */
const ARROW = /^\s*(?:->|=>|>|→)\s*$/;

/**
 * Names and units of the fields of a line of free text: by the words and signs before each number; where there are none
 * before the first, by those behind. Each name once: one without words takes that of the field before it.
 */
export function textFields(bytes: Uint8Array, end: number, fields: FieldList): TextField[] {
  const count = fields.count;
  const labels: string[] = [];
  const units: string[] = [];
  let before = '';
  let isCode = false;
  for (let i = 0; i <= count; i++) {
    const from = i < count ? (fields.nameStart[i] ?? 0) : lastEnd(bytes, end, fields);
    const text = decoded(bytes, from, i < count ? (fields.nameEnd[i] ?? 0) : end);
    // A quotation mark that was opened before the number is no inch.
    const isQuoted = before.endsWith('"') && text.startsWith('"');
    const found = i === 0 || isQuoted ? null : UNIT.exec(text);
    before = text;
    if (i === 0) isCode = /\p{L}$/u.test(text);
    // In "W125 F35.4" and "W125F35.4" the F is the name of the next number, because it touches that one.
    const unit = found !== null && i < count && found[0] === text && (isCode || text.startsWith(' ')) ? null : found;
    if (i > 0)
      units.push(
        (unit?.[1] ?? '')
          .replace(/^º|^deg ?/, '°')
          .replace('℃', '°C')
          .replace('℉', '°F'),
      );
    const label = unit === null ? text : text.slice(unit[0].length);
    labels.push(i > 0 && i < count && ARROW.test(label) ? '/' : tidy(label));
  }
  const first = labels[0] ?? '';
  const behind = first === '' && (labels[count] ?? '') !== '';
  const subject = behind ? '' : subjectOf(labels.slice(0, count));
  const names: string[] = [];
  for (let i = 0; i < count; i++) {
    const words = (behind ? labels[i + 1] : labels[i]) ?? '';
    const own = i > 0 && subject !== '' ? qualified(subject, words, units[i] ?? '') : words;
    const before = names[i - 1] ?? '';
    const name = WORD.test(own)
      ? own
      : own === ''
        ? ''
        : `${before.replace(/[^\p{L}\d\p{Extended_Pictographic}]+$/u, '')} ${own}`.trim();
    names.push(unique(name, before, names, i));
  }
  return names.map((name, i) => ({ name, unit: units[i] ?? '' }));
}

/** A name that ends in a number: "Zone 1", "Zone 1 (feed)". */
const NUMBERED = /\p{L} \d{1,2}(?: \(\p{L}+\))?$/u;

/** What a line is about, if its first name alone is numbered. The next line may print the same words about another one. */
function subjectOf([first = '', ...others]: readonly string[]): string {
  return NUMBERED.test(first) && !others.some((label) => /\d/.test(label)) ? first : '';
}

/** "SP" in a line about "Zone 1" is "Zone 1 SP", and a number without words but with a unit "Zone 1 %". */
function qualified(subject: string, words: string, unit: string): string {
  if (words === '' && unit !== '') return `${subject} ${unit}`;
  return /\p{L}/u.test(words) ? `${subject} ${words}`.slice(0, NAME_CHARACTERS_MAX) : words;
}

/** A number in tags is named by them: "<T1>199.8</T1>". */
const OTHER_TAG = /<\/[^<>]*>|<[^<>]*>(?=.*\p{L})/gu;
const TAG = /<([\p{L}_][^<>]*)>\s*$/u;
/** Words that say what is going on, before the name: the "d" in "state=winding d", the "temp" in "fan off temp". */
const STATE_PAIR = /^.*[^\s=:]\s*(?:=\s*|:)\p{L}[\p{L}\d_-]*\s+(?=\S)/u;
const STATE_WORD = /^(?:.*\s)?(?:on|off|true|false|ok)\s+(?=\S)/iu;

function tidy(text: string): string {
  return text
    .replaceAll(/["'`]/g, '')
    .replaceAll(OTHER_TAG, ' ')
    .replace(TAG, '$1')
    .replace(/^[\s,;|&:=>()[\]{}<-]+/, '')
    .replace(/^.*[,;|](?=.*\p{L})/u, '')
    .replace(STATE_PAIR, '')
    .replace(STATE_WORD, '')
    .replace(/^[\s([{<]+/, '')
    .replace(/[\s,;|&:=<([{$!~≈-]+$/, '')
    .replace(/[\s.]*\.\.$/, '')
    .replace(/^([^[]*)\]$/, '$1')
    .replace(/^[$!#*]+/, '')
    .replaceAll(/\s+/g, ' ')
    .trim()
    .slice(-NAME_CHARACTERS_MAX);
}

const NAME_CHARACTERS_MAX = 40;

/** A list behind one word ("FIL,1.75,198.8") counts its values; a word that comes twice counts itself. */
function unique(name: string, before: string, names: readonly string[], i: number): string {
  if (name !== '' && !names.includes(name)) return name;
  const stem = name !== '' ? name : before === '' ? 'value' : before.replace(/[^\p{L}\d]*(?: \d+)?$/u, '') || 'value';
  let n = name === '' && before === '' ? i + 1 : 2;
  while (names.includes(`${stem} ${n}`)) n++;
  return `${stem} ${n}`;
}

import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';

type Marked = Pick<SectionView, 'kind' | 'verdict'>;

/** The looks of sections, by the classes of the marks that are drawn. */
const MARKS: readonly { readonly look: string; readonly text: string; readonly of: (one: Marked) => boolean }[] = [
  {
    look: 'discard',
    text: 'Discard',
    of: ({ kind, verdict }) => verdict === 'discard' && kind !== 'neck' && kind !== 'unknown',
  },
  {
    look: 'discard abnormal',
    text: 'Discard, a thin spot',
    of: ({ kind, verdict }) => verdict === 'discard' && kind === 'neck',
  },
  {
    look: 'doubtful',
    text: 'Doubtful: look before you cut',
    of: ({ kind, verdict }) => verdict === 'doubtful' && kind !== 'unknown',
  },
  { look: 'unknown', text: 'Not measured', of: ({ kind }) => kind === 'unknown' },
  { look: 'good', text: 'Joint', of: ({ kind }) => kind === 'joint' },
  {
    look: 'good',
    text: 'Accepted as good',
    of: ({ kind, verdict }) => verdict === 'good' && kind !== 'joint' && kind !== 'unknown',
  },
];

interface Props {
  readonly sections: readonly Marked[];
  /** Short stretches have a flag above them. */
  readonly flags: boolean;
  /** The outer end is marked. */
  readonly end?: boolean;
}

/** Explains every mark that is drawn for these sections. */
export function MarkLegend({ sections, flags, end = true }: Props) {
  if (!end && !sections.some((one) => MARKS.some(({ of }) => of(one)))) return null;
  return (
    <ul class="legend" aria-label="Marks">
      {MARKS.filter(({ of }) => sections.some(of)).map(({ look, text }) => (
        <li key={text}>
          <span class={`mark-sample ${look}`} /> {text}
        </li>
      ))}
      {flags && sections.some(({ kind, verdict }) => verdict !== 'good' && kind !== 'unknown') && (
        <li>
          <span class="flag-sample" /> Where a stretch starts
        </li>
      )}
      {end && (
        <li>
          <span class="end-sample" /> Outer end
        </li>
      )}
    </ul>
  );
}

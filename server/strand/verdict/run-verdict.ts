/** Total lengths of all spools of a run, mm, corrected by tape measurement. */
export interface RunLengths {
  readonly inProgress: boolean;
  readonly woundMm: number;
  readonly discardMm: number;
  readonly doubtfulMm: number;
  readonly unknownMm: number;
  /** Surely beyond the hotend limit, and not marked good by a user. */
  readonly blobsToDiscard: number;
  readonly keptMm: number;
  readonly coils: number;
}

const metres = (mm: number) => `${(mm / 1000).toFixed(2)} m`;
const counted = (count: number, one: string, many: string) => (count === 1 ? `one ${one}` : `${count} ${many}`);

/**
 * The verdict on a run as text. Bad strand is the strand within sections to discard. The kept strand comes from the cut lists,
 * which also discard margins.
 */
export function verdictOfRun(run: RunLengths): string {
  const { woundMm, discardMm, doubtfulMm, unknownMm, blobsToDiscard, keptMm, coils } = run;
  if (woundMm <= 0) return run.inProgress ? 'Nothing has been wound yet.' : 'Nothing was wound.';
  const aside = [
    ...(doubtfulMm > 0 ? [`${metres(doubtfulMm)} doubtful`] : []),
    ...(unknownMm > 0 ? [`${metres(unknownMm)} not measured`] : []),
  ];
  if (discardMm <= 0 && aside.length === 0) return `${metres(woundMm)} wound, nothing to cut out.`;
  const share = (100 * discardMm) / woundMm;
  const because =
    blobsToDiscard === 0 ? '' : `, with ${counted(blobsToDiscard, 'blob', 'blobs')} beyond the hotend limit`;
  const bad =
    discardMm <= 0
      ? 'nothing known to be bad'
      : `${metres(discardMm)} (${share < 0.1 ? '< 0.1' : share.toFixed(1)} %) of it bad${because}`;
  const also = aside.length === 0 ? '' : `, plus ${aside.join(' and ')}`;
  const kept =
    coils === 0
      ? 'Cutting would keep nothing: no good piece is long enough.'
      : `Cutting keeps ${metres(keptMm)} in ${counted(coils, 'coil', 'coils')}.`;
  return `${metres(woundMm)} wound, ${bad}${also}. ${kept}`;
}

import { useEffect, useState } from 'preact/hooks';
import type { CoilDetail } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { LotView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { lotText } from '../format/names.ts';
import { clock, shortDay } from '../format/times.ts';
import { PrinterSelect } from '../printers/printer-select.tsx';
import { chooseForSpool } from '../printers/spool-choices.ts';
import { call } from '../service/call.ts';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, isAbort, type ServiceProblem } from '../service/request.ts';
import { settings } from '../service/settings.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { QrCode } from '../shell/qr-code.tsx';
import { addressFault } from '../shell/qr-path.ts';
import { Shape } from '../shell/shape.tsx';
import { coilLabel, type LabelText, nameOfPrinter, spoolLabel } from './label-text.ts';

const SIZES = [
  ['small', '62 × 100 mm'],
  ['a6', 'A6, 105 × 148 mm'],
] as const;

interface Answers {
  readonly detail: SpoolDetail;
  readonly judgement: SpoolJudgement;
  readonly coils: readonly CoilDetail[];
}

/** Labels for a spool or its coils, with a QR code that leads to the spool's page. */
export default function LabelPage({ spoolId }: { spoolId: number }) {
  const [answers, setAnswers] = useState<Answers | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [size, setSize] = useState<(typeof SIZES)[number][0]>('small');
  const [what, setWhat] = useState<'spool' | 'coils'>('spool');
  const [chosen, setChosen] = useState(0);
  const version = refetchVersion.value;
  useEffect(() => {
    const controller = new AbortController();
    const request = { params: { id: spoolId }, signal: controller.signal };
    Promise.all([
      call('GET /api/spools/:id', request),
      call('GET /api/spools/:id/judgement', request),
      call('GET /api/spools/:id/coils', request),
    ]).then(
      ([detail, judgement, coils]) => {
        setAnswers({ detail, judgement, coils });
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [spoolId, chosen, version]);
  if (!answers) return problem ? <ProblemNote problem={problem} /> : <p class="quiet">Fetching the spool …</p>;
  const { detail, judgement, coils } = answers;
  const when = `${shortDay(detail.spool.startedMs, detail.run.timeZone)} ${new Date(detail.spool.startedMs).getFullYear()}, ${clock(detail.spool.startedMs, detail.run.timeZone)}`;
  const uncut = coils.filter((one) => one.coil.state === 'planned');
  const spoilt = coils.filter((one) => one.coil.condition === 'spoilt').length;
  const labels =
    what === 'spool'
      ? [spoolLabel(judgement, detail.spool, uncut)]
      : coils.map((one) => coilLabel(one, nameOfPrinter(judgement)));
  const fault = addressFault(location.origin);
  return (
    <section>
      <header class="page-head no-print">
        <h1>Label for {judgement.name}</h1>
        <p>
          The code leads to <a href={`/spool/${spoolId}`}>the spool’s page</a>.
        </p>
      </header>
      <form class="label-choices no-print" onSubmit={(event) => event.preventDefault()}>
        {(coils.length > 0 || what === 'coils') && (
          <fieldset class="switch">
            <legend>For</legend>
            {(['spool', 'coils'] as const).map((one) => (
              <label key={one}>
                <input type="radio" name="label-what" checked={what === one} onChange={() => setWhat(one)} />
                <span>
                  {one === 'spool' ? 'the spool' : coils.length === 1 ? 'its one coil' : `its ${coils.length} coils`}
                </span>
              </label>
            ))}
          </fieldset>
        )}
        <fieldset class="switch">
          <legend>Size</legend>
          {SIZES.map(([name, text]) => (
            <label key={name}>
              <input type="radio" name="label-size" checked={size === name} onChange={() => setSize(name)} />
              <span>{text}</span>
            </label>
          ))}
        </fieldset>
        <PrinterSelect
          label="Judged for"
          value={detail.spool.choices.printerId}
          choose={(printerId) =>
            chooseForSpool(spoolId, { printerId }).then(
              () => setChosen((n) => n + 1),
              (thrown) => setProblem(asProblem(thrown)),
            )
          }
        />
        <button type="button" class="main" disabled={labels.length === 0} onClick={() => print()}>
          Print
        </button>
      </form>
      {problem && <ProblemNote problem={problem} />}
      {fault && (
        <p class="with-shape label-fault no-print">
          <Shape of="notice" size={20} />
          <span>{fault}</span>
        </p>
      )}
      {what === 'coils' && spoilt > 0 && (
        <p class="with-shape label-fault no-print">
          <Shape of="danger" size={20} />
          <span>
            {spoilt === 1 ? 'One coil contains' : `${spoilt} coils contain`} a bad stretch. Save it{' '}
            <a href={`/spool/${spoolId}/rewind`}>at the rewinder</a>, or discard it.
          </span>
        </p>
      )}
      {labels.length === 0 && <p class="quiet">No coil would be left that is long enough.</p>}
      <div class="label-sheet">
        {labels.map((text) => (
          <Label
            key={text.name}
            text={text}
            size={size}
            when={when}
            lot={detail.run.lot}
            note={what === 'spool' ? detail.spool.note : ''}
            place={settings.value?.lineName ?? live.value?.lineName ?? ''}
            address={`${location.origin}/spool/${spoolId}`}
          />
        ))}
      </div>
    </section>
  );
}

function Label(props: {
  text: LabelText;
  size: string;
  when: string;
  lot: LotView | null;
  note: string;
  place: string;
  address: string;
}) {
  const { text, size, when, lot, note, place, address } = props;
  return (
    <article class={`label ${size}`} data-testid="label" aria-label={`Label ${text.name}`}>
      <header>
        <p class="label-name">{text.name}</p>
        <p class="label-when">
          {when}
          {place !== '' && `, ${place}`}
        </p>
      </header>
      <p class="label-amount">
        <b>{text.length}</b> <span>{text.mass}</span>
      </p>
      <dl>
        {text.facts.map(([name, value]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{value}</dd>
          </div>
        ))}
      </dl>
      <div>
        {lot && (
          <p class="label-lot" data-testid="label-lot">
            Material: {lotText(lot)}
          </p>
        )}
        {text.verdict !== '' && <p class="label-verdict">{text.verdict}</p>}
        {text.coils !== '' && <p>Coils: {text.coils}</p>}
        {note !== '' && <p class="label-note">{note}</p>}
      </div>
      <footer>
        <QrCode text={address} label={`QR code: ${address}`} />
        <p class="label-address">{address.replace(/^https?:\/\//, '')}</p>
      </footer>
    </article>
  );
}

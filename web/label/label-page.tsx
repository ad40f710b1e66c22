import { useEffect, useState } from 'preact/hooks';
import type { CoilDetail } from '../../server/api/contract/cut-plan.ts';
import type { SpoolJudgement } from '../../server/api/contract/judgement.ts';
import type { HouseView } from '../../server/api/contract/labels.ts';
import type { LotView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { NumberField } from '../form/number-field.tsx';
import { lotText } from '../format/names.ts';
import { clock, shortDayOfYear } from '../format/times.ts';
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
import { LABEL_SIZES, type LabelSize, linkOf } from './label-sizes.ts';
import { coilLabel, type LabelText, nameOfPrinter, spoolLabel } from './label-text.ts';

interface Answers {
  readonly detail: SpoolDetail;
  readonly judgement: SpoolJudgement;
  readonly coils: readonly CoilDetail[];
  readonly house: HouseView;
}

/** Labels for a spool or its coils, each with a code that leads to its own page. */
export default function LabelPage({ spoolId }: { spoolId: number }) {
  const [answers, setAnswers] = useState<Answers | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const [size, setSize] = useState<LabelSize>(LABEL_SIZES[0]!);
  /** null = not chosen yet: coils once there are any. */
  const [asked, setAsked] = useState<'spool' | 'coils' | null>(null);
  const [firstPlace, setFirstPlace] = useState<number | null>(1);
  const [chosen, setChosen] = useState(0);
  const version = refetchVersion.value;
  useEffect(() => {
    const controller = new AbortController();
    const request = { params: { id: spoolId }, signal: controller.signal };
    Promise.all([
      call('GET /api/spools/:id', request),
      call('GET /api/spools/:id/judgement', request),
      call('GET /api/spools/:id/coils', request),
      call('GET /api/house', { signal: controller.signal }),
    ]).then(
      ([detail, judgement, coils, house]) => {
        setAnswers({ detail, judgement, coils, house });
        setProblem(null);
      },
      (thrown) => {
        if (!isAbort(thrown)) setProblem(asProblem(thrown));
      },
    );
    return () => controller.abort();
  }, [spoolId, chosen, version]);
  if (!answers) return problem ? <ProblemNote problem={problem} /> : <p class="quiet">Fetching the spool …</p>;
  const { detail, judgement, coils, house } = answers;
  const { startedMs } = detail.spool;
  const when = `${shortDayOfYear(startedMs, detail.run.timeZone)}, ${clock(startedMs, detail.run.timeZone)}`;
  const isCut = coils.some((one) => one.coil.state === 'cut');
  const what = asked ?? (isCut ? 'coils' : 'spool');
  const uncut = coils.filter((one) => one.coil.state === 'planned');
  const spoilt = coils.filter((one) => one.coil.condition === 'spoilt').length;
  const labels =
    what === 'spool'
      ? [spoolLabel(judgement, detail.spool, uncut)]
      : coils.map((one) => coilLabel(one, nameOfPrinter(judgement)));
  const fault = addressFault(house.linkAddress);
  const places = size.onSheet === null ? 0 : Math.min(size.onSheet, Math.max(1, firstPlace ?? 1)) - 1;
  const sheets = size.onSheet === null ? [labels] : sheetsOf([...Array(places).fill(null), ...labels], size.onSheet);
  return (
    <section>
      <header class="page-head no-print">
        <h1>Labels for {judgement.name}</h1>
        <p>
          {what === 'spool' ? (
            <>
              The code leads to <a href={`/spool/${spoolId}`}>the spool’s page</a>.
            </>
          ) : (
            'Each code leads to the page of its coil.'
          )}{' '}
          Anyone who scans it without being paired sees only name, material, length and verdict.
        </p>
      </header>
      <form class="label-choices no-print" onSubmit={(event) => event.preventDefault()}>
        <button type="button" class="main" disabled={labels.length === 0} onClick={() => print()}>
          Print
        </button>
        {(coils.length > 0 || what === 'coils') && (
          <fieldset class="switch">
            <legend>For</legend>
            {(['spool', 'coils'] as const).map((one) => (
              <label key={one}>
                <input type="radio" name="label-what" checked={what === one} onChange={() => setAsked(one)} />
                <span>
                  {one === 'spool' ? 'the spool' : coils.length === 1 ? 'its one coil' : `its ${coils.length} coils`}
                </span>
              </label>
            ))}
          </fieldset>
        )}
        <fieldset class="switch label-sizes">
          <legend>Size</legend>
          {LABEL_SIZES.map((one) => (
            <label key={one.name}>
              <input type="radio" name="label-size" checked={size === one} onChange={() => setSize(one)} />
              <span>{one.text}</span>
            </label>
          ))}
        </fieldset>
        {size.onSheet !== null && (
          <NumberField
            id="first-place"
            label="First free label on the sheet"
            value={firstPlace}
            digits={0}
            bounds={{ minimum: 1, maximum: size.onSheet }}
            set={setFirstPlace}
          />
        )}
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
      </form>
      {problem && <ProblemNote problem={problem} />}
      {fault ? (
        <p class="with-shape label-fault no-print">
          <Shape of="notice" size={20} />
          <span>{fault}</span>
        </p>
      ) : (
        !house.linkStated && (
          <p class="with-shape label-fault no-print">
            <Shape of="notice" size={20} />
            <span>
              The codes lead to {new URL(house.linkAddress).host}. If that may change, enter the address of the page
              under <a href="/people">People</a> first: labels stay valid as long as that name leads here.
            </span>
          </p>
        )
      )}
      {what === 'coils' && uncut.length > 0 && (
        <p class="label-fault no-print">
          {uncut.length === coils.length
            ? 'The coils are not cut yet.'
            : `${uncut.length} of the coils are not cut yet.`}{' '}
          Their codes work once they are.
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
      {sheets.map((sheet, s) => (
        <div key={s} class={`label-sheet ${size.name}`}>
          {sheet.map((text, i) =>
            text === null ? (
              <div key={i} class="label-used" aria-hidden="true" />
            ) : (
              <Label
                key={text.code}
                text={text}
                size={size}
                when={when}
                lot={detail.run.lot}
                note={what === 'spool' ? detail.spool.note : ''}
                place={settings.value?.lineName ?? live.value?.lineName ?? ''}
                link={linkOf(house.linkAddress, text.code)}
              />
            ),
          )}
        </div>
      ))}
    </section>
  );
}

function sheetsOf<T>(labels: readonly T[], onSheet: number): T[][] {
  return Array.from({ length: Math.ceil(labels.length / onSheet) }, (_, i) =>
    labels.slice(i * onSheet, (i + 1) * onSheet),
  );
}

function Label(props: {
  text: LabelText;
  size: LabelSize;
  when: string;
  lot: LotView | null;
  note: string;
  place: string;
  link: string;
}) {
  const { text, size, when, lot, note, place, link } = props;
  return (
    <article class={`label ${size.name}`} data-testid="label" aria-label={`Label ${text.name}`}>
      {/* Most important first: a line that does not fit is left out as a whole, with those after it. */}
      <div class="label-lines">
        <p class="label-name">{text.name}</p>
        <p class="label-amount">
          <b>{text.length}</b> <span>{text.mass}</span>
        </p>
        {text.verdict !== '' && <p class="label-needed">{text.verdict}</p>}
        {text.cautions.map((caution) => (
          <p key={caution} class="label-needed">
            {caution}
          </p>
        ))}
        {lot && (
          <p class="label-lot" data-testid="label-lot">
            Material: {lotText(lot)}
          </p>
        )}
        <p>
          {when}
          {place !== '' && `, ${place}`}
        </p>
        <dl>
          {text.facts.map(([name, value]) => (
            <div key={name}>
              <dt>{name}</dt>
              <dd>{value}</dd>
            </div>
          ))}
        </dl>
        {text.coils !== '' && <p>Coils: {text.coils}</p>}
        {note !== '' && <p class="label-note">{note}</p>}
      </div>
      <footer>
        <QrCode text={link} label={`QR code: ${link}`} mostMm={size.codeMm} />
        <div>
          <p class="label-needed">▸ {text.feeds}</p>
          <p class="label-code">{link.replace(/^https?:\/\//i, '')}</p>
        </div>
      </footer>
    </article>
  );
}

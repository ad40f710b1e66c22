import type { ComponentChildren } from 'preact';
import { useEffect, useState } from 'preact/hooks';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { OtherLinesPart } from '../lines/other-lines-part.tsx';
import { live, refetchVersion } from '../service/live-store.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { saveSettings, settings } from '../service/settings.ts';
import { Later } from '../shell/later.tsx';
import { Needs } from '../shell/needs.tsx';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';
import { followIncoming, incoming, incomingProblem } from './incoming-store.ts';
import { MissingPart } from './missing-part.tsx';
import { followPorts, ports, portsProblem } from './ports-store.ts';
import { SettingsForm } from './settings-form.tsx';
import { loadWithSchema, type SettingsAnswer } from './settings-store.ts';
import { SignalsPart } from './signals-part.tsx';
import { SourcePicker } from './source-picker.tsx';
import { partsOf } from './source-text.ts';
import { useSignals } from './use-signals.ts';

/** From a board that was just plugged in to a line that is watched; below it every setting. */
export default function SetUpPage() {
  const [answer, setAnswer] = useState<SettingsAnswer | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const version = refetchVersion.value;
  // Another device may change the source, too.
  const sourceTitle = live.value?.link.sourceTitle;
  useEffect(() => {
    loadWithSchema().then(
      (loaded) => {
        setAnswer(loaded);
        setProblem(null);
      },
      (thrown) => setProblem(asProblem(thrown)),
    );
  }, [version, sourceTitle]);
  useEffect(followIncoming, []);
  useEffect(followPorts, []);
  const saved = settings.value;
  // With the ports, so that nothing jumps when they arrive.
  if (!answer || !saved || !(ports.value || portsProblem.value))
    return problem ? <ProblemNote problem={problem} /> : <p class="quiet">Fetching the settings …</p>;
  return (
    <div class="set-up">
      <header class="page-head">
        <h1>Set-up</h1>
        <p>
          Your line, its gauge, and the printer the filament is for. <a href="/printers">More printers</a> ·{' '}
          <a href="/alarms">Alarms</a> · <a href="/devices">Devices</a> · <a href="#other-lines">Other lines</a> ·{' '}
          <a href="/first-evening">First evening, on one sheet</a>
        </p>
      </header>
      <Needs right="manage">
        <ResetNote names={answer.reset} />
        <SourceForm answer={answer} inUse={answer.sourceFixed ? answer.sourceInUse : saved.source} />
        <LineParts known={saved}>
          <SettingsForm properties={answer.schema.properties} saved={saved} />
          <OtherLinesPart />
        </LineParts>
      </Needs>
    </div>
  );
}

const KEEP_EARLIER = 'Correct below what has changed since, or keep them.';

/** Which settings have their defaults or are those of an earlier version, because what was saved could not be read, until they have been saved. */
function ResetNote({ names }: { names: readonly string[] }) {
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const text = live.value?.settingsProblem ?? null;
  const known = settings.value;
  if (text === null || known === null) return null;
  const isEarlier = names.length === 0;
  // A source can only be chosen.
  const canKeep = !isEarlier || partsOf(known.source).kind !== 'none';
  const keep = () =>
    saveSettings(
      isEarlier ? known : Object.fromEntries(Object.entries(known).filter(([name]) => names.includes(name))),
    ).then(
      () => setProblem(null),
      (thrown) => setProblem(asProblem(thrown)),
    );
  return (
    <div class="problem" role="alert" data-testid="settings-note">
      <Shape of="abnormal" size={20} />
      <div>
        <p>
          {text} {canKeep && (isEarlier ? KEEP_EARLIER : 'Enter your own below, or keep the defaults.')}
        </p>
        {problem && <ProblemNote problem={problem} />}
        {canKeep && (
          <p class="actions">
            <button type="button" onClick={keep}>
              {isEarlier ? 'Keep these settings' : 'Keep the defaults'}
            </button>
          </p>
        )}
      </div>
    </div>
  );
}

/** The source of the lines, and the button that uses it. */
function SourceForm({ answer, inUse }: { answer: SettingsAnswer; inUse: string }) {
  const [source, setSource] = useState(inUse);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => setSource(inUse), [inUse]);
  const use = async (next: string) => {
    try {
      await saveSettings({ source: next });
      setProblem(null);
      showNotice({ text: 'Source changed.' });
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  return (
    <form
      class="source-form"
      onSubmit={(event) => {
        event.preventDefault();
        void use(source);
      }}
    >
      <SourcePicker
        source={inUse}
        scenarios={answer.scenarios}
        fixed={answer.sourceFixed}
        set={setSource}
        use={(next) => void use(next)}
      />
      {(source !== inUse || problem) && (
        <div class="source-foot">
          {problem && <ProblemNote problem={problem} />}
          {source !== inUse && (
            <p class="actions">
              <button type="submit" class="main">
                Use this source
              </button>
            </p>
          )}
        </div>
      )}
    </form>
  );
}

/** What the line sends, and below it the rest: in turn, so that nothing that is shown moves. */
function LineParts({ known, children }: { known: LineSettings; children: ComponentChildren }) {
  const seen = incoming.value;
  const signals = useSignals(seen, known);
  const problem = incomingProblem.value;
  if (seen === null && problem === null) return <p class="quiet">Asking the service what the line sends …</p>;
  return (
    <>
      {problem && <ProblemNote problem={problem} />}
      {seen && <Later>{() => <SignalsPart seen={seen} settings={known} signals={signals} />}</Later>}
      {seen && seen.fields.length > 0 && (
        <Later>{() => <MissingPart seen={seen} settings={known} signals={signals} />}</Later>
      )}
      <Later>{() => <>{children}</>}</Later>
    </>
  );
}

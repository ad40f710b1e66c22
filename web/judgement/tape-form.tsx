import { useState } from 'preact/hooks';
import type { LengthScale } from '../../server/api/contract/judgement.ts';
import { NumberField } from '../form/number-field.tsx';
import { length, metres } from '../format/numbers.ts';
import { shortDay } from '../format/times.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { fieldOf, focusField } from '../shell/field-of.ts';
import { say } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import type { JudgementModel } from './judgement-model.ts';

const FIELD_IDS = { indicatedMm: 'tape-counted', measuredMm: 'tape-measured', uncertaintyMm: 'tape-off' };

/** Puts the counted lengths of the whole spool right by a tape measurement. */
export function TapeForm({
  model,
  scale,
  changed,
}: {
  model: JudgementModel;
  scale: LengthScale;
  changed: () => void;
}) {
  const [indicated, setIndicated] = useState<number | null>(null);
  const [measured, setMeasured] = useState<number | null>(null);
  const [uncertainty, setUncertainty] = useState<number | null>(0.01);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const act = async (input: Parameters<JudgementModel['correctLength']>[0], text: string) => {
    try {
      await model.correctLength(input);
      setProblem(null);
      say({ text: text });
      changed();
    } catch (thrown) {
      const said = asProblem(thrown);
      setProblem(said);
      const field = fieldOf(said, ['indicatedMm', 'measuredMm', 'uncertaintyMm']);
      if (field !== null) focusField(FIELD_IDS[field]);
    }
  };
  const ready =
    indicated !== null &&
    measured !== null &&
    uncertainty !== null &&
    indicated > 0 &&
    measured > 0 &&
    uncertainty >= 0;
  return (
    <>
      {scale.measured ? (
        <p>
          On {shortDay(scale.measured.atMs)} {metres(scale.measured.measuredMm, 3)}&nbsp;m ±{' '}
          {length(scale.measured.uncertaintyMm)} were measured where the line had counted{' '}
          {metres(scale.measured.indicatedMm, 3)}&nbsp;m: every length of this spool is multiplied by{' '}
          <b>{scale.factor.toFixed(4)}</b>, good to {(scale.share * 100).toFixed(2)}&#8239;%.{' '}
          <button type="button" class="plain no-print" onClick={() => act(null, 'Lengths are as counted again.')}>
            Take it back
          </button>
        </p>
      ) : (
        <p>Never measured: lengths are as the line counted them.</p>
      )}
      <form
        class="ask-line no-print"
        onSubmit={(event) => {
          event.preventDefault();
          if (ready)
            void act(
              { indicatedMm: indicated * 1000, measuredMm: measured * 1000, uncertaintyMm: uncertainty * 1000 },
              'The lengths of this spool are put right.',
            );
        }}
      >
        <NumberField
          id="tape-counted"
          label="The line counted"
          value={indicated}
          digits={3}
          unit="m"
          bounds={{ exclusiveMinimum: 0 }}
          set={setIndicated}
        />
        <NumberField
          id="tape-measured"
          label="The tape says"
          value={measured}
          digits={3}
          unit="m"
          bounds={{ exclusiveMinimum: 0 }}
          set={setMeasured}
        />
        <NumberField
          id="tape-off"
          label="Good to ±"
          value={uncertainty}
          digits={3}
          unit="m"
          bounds={{ minimum: 0 }}
          set={setUncertainty}
        />
        <button type="submit" disabled={!ready}>
          Put the lengths right
        </button>
      </form>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}

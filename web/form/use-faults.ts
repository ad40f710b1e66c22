import { useState } from 'preact/hooks';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { type FaultTexts, fieldOf } from './field-of.ts';

/** Moves the focus to a field, once its fault is shown. */
function focusField(id: string): void {
  requestAnimationFrame(() => document.getElementById(id)?.focus());
}

/**
 * What is wrong with a form: a text for each faulty field, or a problem of the form as a whole.
 * @param idOf the id of a field's input, which takes the focus
 */
export function useFaults<Name extends string>(fields: readonly Name[], idOf: (name: Name) => string) {
  const [faults, setFaults] = useState<FaultTexts<Name>>({});
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const show = (texts: FaultTexts<Name>) => {
    setFaults(texts);
    setProblem(null);
    const first = fields.find((name) => texts[name] !== undefined);
    if (first !== undefined) focusField(idOf(first));
  };
  return {
    faults,
    problem,
    show,
    /** Shows what the service refused: at its field, or for the whole form. */
    showThrown: (thrown: unknown) => {
      const refusal = asProblem(thrown);
      const field = fieldOf(refusal, fields);
      if (field === null) setProblem(refusal);
      else show({ [field]: `${refusal.message} ${refusal.detail}` } as FaultTexts<Name>);
    },
    /** Clears the faults of fields that were changed. */
    clear: (...names: readonly Name[]) => {
      setFaults(
        (old) =>
          Object.fromEntries(Object.entries(old).filter(([name]) => !names.includes(name as Name))) as FaultTexts<Name>,
      );
    },
    clearAll: () => {
      setFaults({});
      setProblem(null);
    },
  };
}

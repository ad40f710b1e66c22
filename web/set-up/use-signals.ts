import { useEffect, useState } from 'preact/hooks';
import type { IncomingView } from '../../server/api/contract/incoming.ts';
import type { Role } from '../../server/reading/names.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { loadSettings, saveSettings } from '../service/settings.ts';
import { showNotice } from '../shell/notice.tsx';
import { incomingProblem, isSettling, saveMapping } from './incoming-store.ts';
import type { SaveCalibration } from './pin-gauge-aid.tsx';
import {
  type Choices,
  chosenMeaning,
  isBehind,
  type Meaning,
  mappingOf,
  type SignalRow,
  signalRows,
  unsaved,
  unusedOf,
} from './signal-rows.ts';
import { NO_VALUES, settingsWith, type UnsentValues } from './unsent-values.ts';

/** The fields of the line with what they mean, and what a user does with them. */
export interface Signals {
  readonly rows: readonly SignalRow[];
  /** Typed beside the rows, and saved with them. */
  readonly values: UnsentValues;
  /** Something was chosen or typed here that is not saved. */
  readonly hasChoices: boolean;
  readonly isSaving: boolean;
  /** Why they could not be saved. */
  readonly problem: ServiceProblem | null;
  chooseRole(row: SignalRow, role: Role | null): void;
  change(row: SignalRow, part: Partial<Meaning>): void;
  setValues(part: Partial<UnsentValues>): void;
  undo(): void;
  /** Saves everything that is chosen, proposed and typed. */
  save(): Promise<void>;
  /** Saves the calibration of one field, and nothing else of what is chosen or proposed. @throws ServiceProblem */
  calibrate(row: SignalRow, ...calibration: Parameters<SaveCalibration>): Promise<void>;
}

export function useSignals(seen: IncomingView | null, settings: LineSettings): Signals {
  const [choices, setChoices] = useState<Choices>({});
  const [values, setValues] = useState(NO_VALUES);
  const [isSaving, setSaving] = useState(false);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const rowsWith = (proposed: IncomingView['proposed'], chosen: Choices) =>
    signalRows({ fields: seen?.fields ?? [], proposed }, settings.roles, chosen, settings.nominalMm);
  const rows = rowsWith(seen?.proposed ?? [], choices);
  const hasChosenRoles = Object.keys(choices).length > 0;
  // Another device changed the signals. While something is chosen here, saving will say so instead.
  const isStale = !hasChosenRoles && !isSettling.value && seen !== null && isBehind(settings.roles, seen.fields);
  useEffect(() => {
    if (!isStale) return;
    loadSettings().catch((thrown: unknown) => {
      incomingProblem.value = asProblem(thrown);
    });
  }, [isStale, seen]);
  const choose = (name: string, meaning: Meaning) => setChoices((old) => ({ ...old, [name]: meaning }));
  const send = async (changed: readonly SignalRow[]) => {
    try {
      await saveMapping(mappingOf(changed), unusedOf(changed, settings.unusedFields));
      setProblem(null);
    } catch (thrown) {
      const refusal = asProblem(thrown);
      // What was chosen here stays, over what the other device saved.
      if (refusal.code === 'wrong-state') await loadSettings();
      throw refusal;
    }
  };
  return {
    rows,
    values,
    hasChoices: hasChosenRoles || values !== NO_VALUES,
    isSaving,
    problem,
    chooseRole: (row, role) => choose(row.name, chosenMeaning(row, role, settings.nominalMm)),
    change: ({ name, role, unit, factor, offset, isCalibrated }, part) =>
      choose(name, { role, unit, factor, offset, isCalibrated, ...part }),
    setValues: (part) => setValues((old) => ({ ...old, ...part })),
    undo: () => {
      setChoices({});
      setValues(NO_VALUES);
      setProblem(null);
    },
    save: async () => {
      setSaving(true);
      try {
        if (unsaved(rows, settings.roles).total > 0) {
          await send(rows);
          setChoices({});
        }
        const { body, count } = settingsWith(values, settings);
        if (count > 0) await saveSettings(body);
        setValues(NO_VALUES);
        setProblem(null);
        showNotice({ text: 'Saved.' });
      } catch (thrown) {
        setProblem(asProblem(thrown));
      } finally {
        setSaving(false);
      }
    },
    calibrate: async ({ name, role, unit }, factor, offset, uncertaintyMm) => {
      await send(rowsWith([], { [name]: { role, unit, factor, offset, isCalibrated: true } }));
      setChoices(({ [name]: _, ...others }) => others);
      if (uncertaintyMm !== null) await saveSettings({ gaugeUncertaintyMm: settableMm(uncertaintyMm) });
      showNotice({ text: 'Calibration saved.' });
    },
  };
}

/** Rounded up to whole micrometres, within the bounds of the setting. */
function settableMm(uncertaintyMm: number): number {
  return Math.min(0.5, Math.ceil(1000 * uncertaintyMm) / 1000);
}

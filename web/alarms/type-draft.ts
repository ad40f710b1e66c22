import { checkAlarmSetting } from '../../server/alarm/alarm-settings.ts';
import type { AlarmTypeView } from '../../server/api/contract/alarms.ts';
import { Problem } from '../../server/problem/problem.ts';
import type { FaultTexts } from '../form/field-of.ts';

/** The settings of an alarm type as typed; null where the text is not a number. */
export interface TypeDraft {
  readonly priority: AlarmTypeView['priority'];
  readonly onDelayS: number | null;
  readonly offDelayS: number | null;
  /** Also null where the alarm's condition has no measured value. */
  readonly deadband: number | null;
  readonly latching: boolean;
  readonly consequence: string;
  readonly firstCheck: string;
}

export function draftOf(type: AlarmTypeView): TypeDraft {
  const { priority, onDelayS, offDelayS, deadband, latching, consequence, firstCheck } = type;
  return { priority, onDelayS, offDelayS, deadband, latching, consequence, firstCheck };
}

/** The draft as the service accepts it, or the faults by field. Checked by the service's own rules. */
export function checkTypeDraft(
  type: AlarmTypeView,
  draft: TypeDraft,
  absoluteLimitC: number,
): { readonly input: object } | { readonly faults: FaultTexts<keyof TypeDraft> } {
  const faults: Partial<Record<keyof TypeDraft, string>> = {};
  const input: Record<string, unknown> = {};
  for (const name of Object.keys(draft) as (keyof TypeDraft)[]) {
    if (name === 'deadband' && type.deadband === null) continue;
    const value = draft[name] ?? Number.NaN;
    try {
      checkAlarmSetting(type.type, { [name]: value }, { absoluteLimitC });
      input[name] = value;
    } catch (thrown) {
      if (!(thrown instanceof Problem)) throw thrown;
      faults[name] = `${thrown.message} ${thrown.remedy}`;
    }
  }
  return Object.keys(faults).length === 0 ? { input } : { faults };
}

import { alarmJournal } from './alarm-journal.ts';
import { alarms } from './alarms.ts';
import { answers } from './answers.ts';
import { bin } from './bin.ts';
import { certificate } from './certificate.ts';
import { channels } from './channels.ts';
import { comparison } from './comparison.ts';
import { cutPlan } from './cut-plan.ts';
import { devices } from './devices.ts';
import { exports } from './exports.ts';
import { incoming } from './incoming.ts';
import { judgement } from './judgement.ts';
import { labels } from './labels.ts';
import { lines } from './lines.ts';
import { live } from './live.ts';
import { metrics } from './metrics.ts';
import { nights } from './nights.ts';
import { people } from './people.ts';
import { printers } from './printers.ts';
import { record } from './record.ts';
import { recording } from './recording.ts';
import { runs } from './runs.ts';
import { setUp } from './set-up.ts';
import { spoolAnalysis } from './spool-analysis.ts';
import { spools } from './spools.ts';
import { stock } from './stock.ts';

/** Every route of the service: the server, the page and the OpenAPI document are all derived from it. */
export const CONTRACT = {
  ...live,
  ...lines,
  ...metrics,
  ...alarms,
  ...alarmJournal,
  ...people,
  ...channels,
  ...answers,
  ...printers,
  ...runs,
  ...nights,
  ...bin,
  ...spools,
  ...judgement,
  ...spoolAnalysis,
  ...cutPlan,
  ...labels,
  ...stock,
  ...comparison,
  ...record,
  ...recording,
  ...setUp,
  ...incoming,
  ...devices,
  ...certificate,
  ...exports,
};

export type Contract = typeof CONTRACT;
export type RouteKey = keyof Contract;

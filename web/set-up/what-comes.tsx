import { isRole, unitOf } from '../../server/reading/names.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { live } from '../service/live-store.ts';
import { lineFields } from './line-fields.ts';

/** What the line sends right now: the last line as it came, and what each name is taken for. */
export function WhatComes({ settings }: { settings: LineSettings }) {
  const link = live.value?.link;
  if (!link) return null;
  const fields = lineFields(link.lastLine, link.shape, settings.columnNames);
  return (
    <section class="set-group what-comes" aria-labelledby="comes-title">
      <div class="set-words">
        <h2 id="comes-title">What the line sends</h2>
        <p>
          {link.sourceTitle}: {link.words}
        </p>
        <p>
          Shape: {link.shape ?? 'not known yet'}. Checksum: {link.checksum}.
        </p>
      </div>
      <div class="comes">
        <p class="raw" data-testid="last-line">
          {link.lastLine || 'Nothing has come yet.'}
        </p>
        {fields.length > 0 && (
          <div class="table-scroll">
            <table>
              <caption class="unseen">Values of the last line and what they are taken for</caption>
              <thead>
                <tr>
                  <th scope="col">Name</th>
                  <th scope="col">Value</th>
                  <th scope="col">Taken for</th>
                </tr>
              </thead>
              <tbody>
                {fields.map((field) => {
                  const mapped = settings.roles.find((one) => one.name === field.name)?.role;
                  const role = mapped ?? field.name;
                  return (
                    <tr key={field.name}>
                      <th scope="row" class="raw">
                        {field.name}
                      </th>
                      <td>{field.value}</td>
                      <td>{isRole(role) ? roleWords(role) : 'kept and drawn, no rule'}</td>
                    </tr>
                  );
                })}
              </tbody>
            </table>
          </div>
        )}
      </div>
    </section>
  );
}

const WORDS: Record<string, string> = {
  ms: 'device clock',
  us: 'device clock',
  n: 'line number',
  d: 'diameter',
  dx: 'diameter, first axis',
  dy: 'diameter, second axis',
  v: 'strand speed',
  len: 'length counter',
  rpm: 'screw speed',
  amp: 'motor current',
  bar: 'melt pressure',
  turns: 'winder turns',
  ta: 'room temperature',
  rh: 'relative humidity',
};
const ZONE_WORDS: Record<string, string> = { t: 'temperature', s: 'set-point', p: 'heater power', f: 'sensor faults' };

function roleWords(role: Parameters<typeof unitOf>[0]): string {
  const unit = unitOf(role);
  const words = WORDS[role] ?? `${ZONE_WORDS[role[0] ?? ''] ?? role} of zone ${role.slice(1)}`;
  return unit === '' ? words : `${words}, ${unit}`;
}

import { isRole, unitOf } from '../../server/reading/names.ts';
import type { LineSettings } from '../../server/settings/line-settings.ts';
import { sourceLabel } from '../format/names.ts';
import { parseNumber } from '../format/numbers.ts';
import { live } from '../service/live-store.ts';
import { lineFields } from './line-fields.ts';
import { type Mapping, roleText } from './role-text.ts';

interface Props {
  readonly settings: LineSettings;
  /** The mappings in the form, saved or not. */
  readonly roles: readonly Mapping[];
  /** Starts a mapping for a name, given its raw value. */
  readonly map: (name: string, raw: number) => void;
}

/** What the line sends now: the last reading line, and the role of each name in it. */
export function IncomingValues({ settings, roles, map }: Props) {
  const link = live.value?.link;
  if (!link) return null;
  const fields = lineFields(link.lastLine, link.shape, settings.columnNames);
  return (
    <section class="part incoming-table" aria-labelledby="incoming-title">
      <div class="part-intro">
        <h2 id="incoming-title">What the line sends</h2>
        <p>{sourceLabel(link)}</p>
        <p>
          Shape: {link.shape ?? 'not known yet'}. Checksum: {link.checksum}.
        </p>
      </div>
      <div class="incoming">
        <p class="raw" data-testid="last-line">
          {link.lastLine || 'Nothing has come yet.'}
        </p>
        {fields.length > 0 && (
          <div class="table-scroll">
            <table>
              <caption class="visually-hidden">Values of the last line and what they are taken for</caption>
              <thead>
                <tr>
                  <th scope="col">Name</th>
                  <th scope="col">As sent</th>
                  <th scope="col">Taken for</th>
                  <th scope="col">Value</th>
                </tr>
              </thead>
              <tbody>
                {fields.map((field) => {
                  const mapping = roles.find((one) => one.name === field.name);
                  const role = mapping?.role ?? field.name;
                  const known = isRole(role) ? role : null;
                  const raw = parseNumber(field.value);
                  return (
                    <tr key={field.name}>
                      <th scope="row" class="raw">
                        {field.name}
                      </th>
                      <td>{field.value}</td>
                      <td>
                        {known !== null ? (
                          roleText(known)
                        ) : (
                          <>
                            Nothing yet: drawn, but not watched.{' '}
                            <button type="button" class="plain" onClick={() => map(field.name, raw ?? Number.NaN)}>
                              Map {field.name} …
                            </button>
                          </>
                        )}
                      </td>
                      <td>
                        {known === null || raw === null ? '–' : valueText(raw, mapping)}{' '}
                        {known !== null && raw !== null && unitOf(known)}
                        {mapping && !isSaved(mapping, settings) && <span class="hint"> not yet saved</span>}
                      </td>
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

/** value = raw × factor + offset, as the service calculates it. */
function valueText(raw: number, mapping: Mapping | undefined): string {
  if (mapping === undefined) return String(raw);
  const { factor, offset } = mapping;
  return factor === null || offset === null ? '–' : String(Number((raw * factor + offset).toPrecision(6)));
}

function isSaved(mapping: Mapping, settings: LineSettings): boolean {
  return settings.roles.some(
    (one) =>
      one.name === mapping.name &&
      one.role === mapping.role &&
      one.factor === mapping.factor &&
      one.offset === mapping.offset,
  );
}

import { SILENT_AFTER_S } from '../../server/alarm/conditions.ts';
import { DROP_CAUSES } from '../../server/reading/link-counters.ts';
import { DROP_TEXT, PHASE_TEXT, sourceLabel, stagedText } from '../format/names.ts';
import { count, counted } from '../format/numbers.ts';
import { clockWithSeconds, span } from '../format/times.ts';
import { live } from '../service/live-store.ts';
import { Shape } from '../shell/shape.tsx';

/** The state of the link, and the dropped lines by cause. */
export function LinkPanel() {
  const state = live.value;
  if (!state) return null;
  const { link, lengthJumps } = state;
  const dropped = DROP_CAUSES.reduce((sum, cause) => sum + link.dropped[cause], 0);
  const silent = link.silentForS !== null && link.silentForS >= SILENT_AFTER_S;
  return (
    <section class="link" aria-labelledby="link-title">
      <header class="section-head">
        <h2 id="link-title">Link</h2>
      </header>
      <p class="link-text">
        {(silent || link.phase !== 'open') && <Shape of="abnormal" size={18} />} {sourceLabel(link)}
      </p>
      <p class="fine">
        {PHASE_TEXT[link.phase]}, {link.readingsPerS.toFixed(link.readingsPerS < 10 ? 1 : 0)} readings a second
        {link.silentForS !== null && link.silentForS >= 1 && `, silent for ${span(link.silentForS * 1000)}`}
        {link.playback && `, ${stagedText(link.playback)}`};{' '}
        {dropped + link.lost === 0
          ? 'no line dropped or lost'
          : `${counted(dropped, 'line')} dropped, ${count(link.lost)} lost`}
      </p>
      <details>
        <summary>Counters, notes and the last line</summary>
        <div class="link-details">
          <table>
            <caption>Lines since the source was opened</caption>
            <tbody>
              <Row name="Received" value={count(link.received)} />
              <Row name="Understood as readings" value={count(link.readings)} />
              <Row name="Lost on the way (gaps in their numbers)" value={count(link.lost)} />
              {lengthJumps > 0 && (
                <Row name="Jumps of the length counter that were ignored" value={count(lengthJumps)} />
              )}
              <Row name="Restarts of the microcontroller" value={count(link.restarts)} />
              {DROP_CAUSES.map((cause) => (
                <Row
                  key={cause}
                  name={`Dropped: ${DROP_TEXT[cause].toLowerCase()}`}
                  value={count(link.dropped[cause])}
                />
              ))}
              <Row name="Format" value={link.shape ?? 'not known yet'} />
              <Row name="Checksum" value={link.checksum} />
            </tbody>
          </table>
          <div>
            <h3>Last line</h3>
            <p class="raw">{link.lastLine || 'None yet.'}</p>
            <h3>Notes from the firmware</h3>
            {link.notes.length === 0 ? (
              <p class="quiet">None.</p>
            ) : (
              <ul class="notes">
                {link.notes.map((note) => (
                  <li key={`${note.timeMs}${note.text}`}>
                    <time>{clockWithSeconds(note.timeMs)}</time> <span class="raw">{note.text}</span>
                  </li>
                ))}
              </ul>
            )}
          </div>
        </div>
      </details>
    </section>
  );
}

function Row({ name, value }: { name: string; value: string }) {
  return (
    <tr>
      <th scope="row">{name}</th>
      <td>{value}</td>
    </tr>
  );
}

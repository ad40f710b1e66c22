import { amountText } from '../../alarm/spool-conditions.ts';
import type { Clock } from '../../monitor/clock.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { RecordWriter } from '../../monitor/ports/record.ts';
import type { DecidedSection, DecisionService } from '../../monitor/spool/decision-service.ts';
import type { SectionInJudgement, SectionService } from '../../monitor/spool/section-service.ts';
import type { SpoolBoundsService } from '../../monitor/spool/spool-bounds-service.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import type { RecordViews } from '../record-views.ts';
import { type Api, serve } from '../serve.ts';
import { frameOf, sectionView } from '../views.ts';

export interface SpoolParts {
  readonly views: RecordViews;
  readonly spools: SpoolRepository;
  readonly sections: SectionService;
  readonly decisions: DecisionService;
  readonly bounds: SpoolBoundsService;
  readonly writer: RecordWriter;
  readonly monitor: LineMonitor;
  readonly clock: Clock;
}

/** A spool and what users state about it. */
export function spoolRoutes(api: Api, parts: SpoolParts): void {
  const { views, spools, sections, decisions, bounds, writer, monitor, clock } = parts;
  const viewOf = ({ section, judgement }: SectionInJudgement) => sectionView(section, frameOf(judgement), null);

  serve(api, 'GET /api/spools', ({ query }) => views.spools(query.newest));

  serve(api, 'GET /api/spools/:id', ({ params }) => views.spool(params.id));

  serve(api, 'PUT /api/spools/:id/note', async ({ params, body, by }) => {
    const spool = spools.spool(params.id);
    const note = body.note.trim();
    writer.setSpoolNote(spool.id, note);
    writer.log({
      timeMs: clock(),
      runId: spool.runId,
      who: by,
      // The log keeps the text, because a later note replaces it.
      what: note === '' ? `Removed the note of spool ${spool.ordinal}.` : `Noted on spool ${spool.ordinal}: “${note}”`,
    });
    monitor.notesChanged(spool.runId);
    return (await views.spool(spool.id)).spool;
  });

  serve(api, 'PUT /api/spools/:id/title', async ({ params, body, by }) => {
    const spool = spools.spool(params.id);
    const title = body.title.trim();
    writer.setSpoolTitle(spool.id, title);
    const what =
      title === '' ? `Removed the name of spool ${spool.ordinal}.` : `Named spool ${spool.ordinal} “${title}”.`;
    writer.log({ timeMs: clock(), runId: spool.runId, who: by, what });
    monitor.notesChanged(spool.runId);
    return (await views.spool(spool.id)).spool;
  });

  serve(api, 'PUT /api/spools/:id/wanted', ({ params, body: { wanted }, by }) => {
    const { id, runId, ordinal } = spools.spool(params.id);
    writer.wantOnSpool(id, wanted);
    const what =
      wanted === null
        ? `Removed the amount wanted on spool ${ordinal}.`
        : `Set the amount wanted on spool ${ordinal} to ${amountText(wanted)}.`;
    writer.log({ timeMs: clock(), runId, who: by, what });
    monitor.notesChanged(runId);
  });

  serve(api, 'POST /api/spools/:id/start', async ({ params, body, by }) => {
    const { id } = await bounds.moveStart(params.id, body.startGaugeMm, by);
    return (await views.spool(id)).spool;
  });

  serve(api, 'POST /api/spools/:id/split', async ({ params, body, by }) => {
    const { id } = await bounds.split(params.id, body.atGaugeMm, by);
    return (await views.spool(id)).spool;
  });

  serve(api, 'POST /api/spools/:id/sections', async ({ params, body, by }) =>
    viewOf(await sections.add(params.id, { note: '', ...body }, by)),
  );

  serve(api, 'PUT /api/spools/:id/sections/:section', async ({ params, body, by }) =>
    viewOf(await sections.adjust(params.id, params.section, { note: '', ...body }, by)),
  );

  serve(api, 'DELETE /api/spools/:id/sections/:section', ({ params, by }) =>
    sections.remove(params.id, params.section, by),
  );

  serve(api, 'PUT /api/spools/:id/sections/:section/dismissal', ({ params, body, by }) =>
    sections.remove(params.id, params.section, by, body.reason),
  );

  const decidedView = ({ section, woundSpool }: DecidedSection) => sectionView(section, frameOf({ woundSpool }), null);

  serve(api, 'POST /api/spools/:id/sections/:section/cut-out', ({ params, body, by, from }) =>
    decidedView(decisions.cutOut(params.id, params.section, body.lengthMm, { name: by, from })),
  );

  serve(api, 'POST /api/spools/:id/sections/:section/leave', ({ params, by, from }) =>
    decidedView(decisions.leave(params.id, params.section, { name: by, from })),
  );

  serve(api, 'DELETE /api/spools/:id/sections/:section/decision', ({ params, by }) =>
    decisions.undo(params.id, params.section, by),
  );

  serve(api, 'POST /api/spools/:id/sections/:section/restore', async ({ params, by }) =>
    viewOf(await sections.restore(params.id, params.section, by)),
  );
}

import { describe, expect, it } from 'vitest';
import { routeOf } from '../../server/entities/page-route.ts';
import { checkDraft, draftOf } from '../../web/printers/printer-draft.ts';

const DRAFT = {
  name: ' Bench ',
  hotendLimitMm: 1.95 as number | null,
  smallestFeedableMm: 1.55,
  toleranceMm: 0.05 as number | null,
  note: ' fine gear ',
};

describe('the draft of a printer', () => {
  it("becomes the service's input", () => {
    expect(checkDraft(DRAFT, 1.75, [])).toEqual({
      input: { name: 'Bench', hotendLimitMm: 1.95, smallestFeedableMm: 1.55, toleranceMm: 0.05, note: 'fine gear' },
    });
  });

  it('reports which field is wrong, and why', () => {
    const faults = (change: Partial<typeof DRAFT>, others: string[] = []) => {
      const checked = checkDraft({ ...DRAFT, ...change }, 1.75, others);
      return 'faults' in checked ? Object.keys(checked.faults) : [];
    };
    expect(faults({ name: ' ' })).toEqual(['name']);
    expect(faults({}, ['Bench'])).toEqual(['name']);
    expect(faults({ hotendLimitMm: null, toleranceMm: 0 })).toEqual(['hotendLimitMm', 'toleranceMm']);
    expect(faults({ hotendLimitMm: 1.78 })).toEqual(['hotendLimitMm']);
    expect(faults({ smallestFeedableMm: 1.72 })).toEqual(['smallestFeedableMm']);
    // Whatever the printer is called, only the pointer decides which field is wrong.
    expect(faults({ name: 'hotend limit', smallestFeedableMm: 1.72 })).toEqual(['smallestFeedableMm']);
  });

  it('starts empty for a new printer and filled for an existing one', () => {
    expect(draftOf(null)).toEqual({
      name: '',
      hotendLimitMm: null,
      smallestFeedableMm: null,
      toleranceMm: null,
      note: '',
    });
    expect(
      draftOf({ id: 2, name: 'A', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05, note: 'n' }),
    ).toEqual({ name: 'A', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05, note: 'n' });
  });
});

describe('addresses of the pages about a spool', () => {
  it('lead to rewinder, label and printers, and nowhere else', () => {
    expect(routeOf('/spool/7/rewind')).toEqual({ page: 'rewinder', id: 7 });
    expect(routeOf('/spool/7/label')).toEqual({ page: 'label', id: 7 });
    expect(routeOf('/printers')).toEqual({ page: 'printers' });
    expect(routeOf('/spool/x/rewind')).toEqual({ page: 'unknown' });
    expect(routeOf('/runs/7/rewind')).toEqual({ page: 'unknown' });
    expect(routeOf('/spool/7/rewind/2')).toEqual({ page: 'unknown' });
  });
});

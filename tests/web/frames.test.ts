import { expect, it } from 'vitest';
import { frames } from '../../web/frame/frames.tsx';

it('renders the frame of each page without a browser, with its entry of the navigation marked', () => {
  const all = frames();
  for (const [path, { html }] of Object.entries(all)) {
    expect([path, html.match(/<main id="content"/g)?.length]).toEqual([path, 1]);
    expect([path, html.includes('Strandward')]).toEqual([path, true]);
  }
  const marked = (path: string) => /<a[^>]*aria-current="page"[^>]*>(.*?)<\/a>/s.exec(all[path]!.html)?.[1];
  expect(marked('/')).toContain('Live');
  expect(marked('/runs/0')).toContain('Runs');
  expect(marked('/people')).toContain('People');
});

it('leaves room for the headline on the live page alone', () => {
  const all = frames();
  const withHeadline = Object.entries(all).filter(([, { html }]) => html.includes('{{'));
  expect(withHeadline.map(([path]) => path)).toEqual(['/']);
  for (const name of ['severity', 'length', 'sentence']) expect(all['/']!.html).toContain(`{{${name}}}`);
});

import type uPlot from 'uplot';

const RETRY_MS = 5000;

let loading: Promise<typeof uPlot> | null = null;

/**
 * The plotting library, fetched while the page is drawn, which need not wait for it.
 * Without a connection it tries again until it has the library; until then the page shows that the connection is lost.
 */
export function plotLibrary(): Promise<typeof uPlot> {
  loading ??= load();
  return loading;
}

async function load(): Promise<typeof uPlot> {
  for (;;) {
    try {
      return (await import('uplot')).default;
    } catch (thrown) {
      console.error(thrown);
      await new Promise((resolve) => setTimeout(resolve, RETRY_MS));
    }
  }
}

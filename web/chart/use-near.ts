import { type ReadonlySignal, useSignal } from '@preact/signals';
import { useEffect } from 'preact/hooks';
import { inTurn } from '../shell/in-turn.ts';

/** What is further away is drawn once the page has settled, so that it is there on paper. */
const ANYWHERE_MS = 5000;

/** Whether an element is, or was, within a screen's height of what is seen. Becomes true for one element after the other. */
export function useNear(place: { readonly current: Element | null }): ReadonlySignal<boolean> {
  const near = useSignal(false);
  useEffect(() => {
    let cancel = () => {};
    const arrive = () => {
      stop();
      cancel = inTurn(() => {
        near.value = true;
      });
    };
    const watch = new IntersectionObserver((seen) => seen.some(({ isIntersecting }) => isIntersecting) && arrive(), {
      rootMargin: '50% 0px',
    });
    watch.observe(place.current!);
    const timer = setTimeout(arrive, ANYWHERE_MS);
    const stop = () => {
      watch.disconnect();
      clearTimeout(timer);
    };
    return () => {
      stop();
      cancel();
    };
  }, [place, near]);
  return near;
}

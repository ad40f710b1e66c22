import type { RefObject } from 'preact';
import { useLayoutEffect, useRef, useState } from 'preact/hooks';

/** The laid-out width of an element, CSS px; 0 before the first layout. */
export function useWidth<T extends HTMLElement>(): [RefObject<T | null>, number] {
  const place = useRef<T>(null);
  const [width, setWidth] = useState(0);
  useLayoutEffect(() => {
    const node = place.current!;
    const measure = () => setWidth(node.clientWidth);
    measure();
    const watch = new ResizeObserver(measure);
    watch.observe(node);
    return () => watch.disconnect();
  }, []);
  return [place, width];
}

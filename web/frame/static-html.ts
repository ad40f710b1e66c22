import { type ComponentChildren, Fragment, isValidElement } from 'preact';

const EMPTY = new Set(['path', 'br', 'img', 'input']);

/** The HTML of components without hooks, for pages that are built before any browser shows them. */
export function staticHtml(node: ComponentChildren): string {
  if (node === null || node === undefined || typeof node === 'boolean') return '';
  if (Array.isArray(node)) return node.map(staticHtml).join('');
  if (!isValidElement(node)) return escaped(String(node));
  const { type, props } = node;
  const { children, ...attributes } = props as Record<string, unknown> & { children?: ComponentChildren };
  if (type === Fragment) return staticHtml(children);
  if (typeof type === 'function')
    return staticHtml((type as (props: unknown) => ComponentChildren)({ ...attributes, children }));
  const tag = `<${type}${Object.entries(attributes).map(attribute).join('')}`;
  return EMPTY.has(String(type)) ? `${tag}/>` : `${tag}>${staticHtml(children)}</${type}>`;
}

function attribute([name, value]: [string, unknown]): string {
  // Handlers belong to the page that replaces this one.
  if (value === undefined || value === null || typeof value === 'function') return '';
  if (value === false && !name.startsWith('aria-')) return '';
  return value === true && !name.startsWith('aria-') ? ` ${name}` : ` ${name}="${escaped(String(value))}"`;
}

function escaped(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('"', '&quot;');
}

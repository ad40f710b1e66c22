/** What the service put into the page; null = nothing, as in a test or for a device that may not see it. */
export function pageData<T>(id: 'state' | 'clock'): T | null {
  const json = globalThis.document?.getElementById(id)?.textContent;
  return json ? (JSON.parse(json) as T) : null;
}

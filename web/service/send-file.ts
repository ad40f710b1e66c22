import { keyWanted } from './access-key.ts';
import { identity, problemOf, ServiceProblem } from './request.ts';

/**
 * Send a file's bytes; unlike `ask` it tells how far it is. The answer is the service's JSON.
 * @param sent told the share that is on its way, 0…1
 * @throws ServiceProblem with a title and what to do, also where `signal` ended it
 */
export function sendFile<T>(
  path: string,
  file: Blob,
  type: string,
  sent: (share: number) => void,
  signal: AbortSignal,
): Promise<T> {
  return new Promise((resolve, reject) => {
    const asked = new XMLHttpRequest();
    const lost = () =>
      reject(
        new ServiceProblem(0, 'The service does not answer.', 'See that it runs and that this device reaches it.'),
      );
    asked.open('POST', path);
    asked.setRequestHeader('accept', 'application/json');
    asked.setRequestHeader('content-type', type);
    for (const [name, value] of Object.entries(identity())) asked.setRequestHeader(name, value);
    asked.upload.onprogress = ({ loaded, total }) => sent(total > 0 ? loaded / total : 0);
    asked.upload.onload = () => sent(1);
    asked.onerror = lost;
    asked.onabort = lost;
    asked.onload = () => {
      if (asked.status >= 200 && asked.status < 300) {
        resolve(JSON.parse(asked.responseText) as T);
        return;
      }
      if (asked.status === 401) keyWanted.value = true;
      reject(problemOf(asked.status, asked.responseText));
    };
    signal.addEventListener('abort', () => asked.abort(), { once: true });
    // With its type, a Blob would send its own.
    asked.send(file.slice(0, file.size, type));
  });
}

import { identity, problemOf, ServiceProblem } from './request.ts';
import { unpaired } from './session.ts';

/**
 * Uploads a file and, unlike `ask`, reports the progress. Returns the JSON of the answer.
 * @param sent called with the share that was sent, 0…1
 * @throws ServiceProblem with a title and what to do, also if `signal` was aborted
 */
export function sendFile<T>(
  path: string,
  file: Blob,
  type: string,
  sent: (share: number) => void,
  signal: AbortSignal,
): Promise<T> {
  return new Promise((resolve, reject) => {
    const request = new XMLHttpRequest();
    const lost = () =>
      reject(
        new ServiceProblem(
          0,
          'The service does not answer.',
          'Check that it is running and that this device can reach it.',
        ),
      );
    request.open('POST', path);
    request.setRequestHeader('accept', 'application/json');
    request.setRequestHeader('content-type', type);
    for (const [name, value] of Object.entries(identity())) request.setRequestHeader(name, value);
    request.upload.onprogress = ({ loaded, total }) => sent(total > 0 ? loaded / total : 0);
    request.upload.onload = () => sent(1);
    request.onerror = lost;
    request.onabort = lost;
    request.onload = () => {
      if (request.status >= 200 && request.status < 300) {
        resolve(JSON.parse(request.responseText) as T);
        return;
      }
      if (request.status === 401) unpaired.value = true;
      reject(problemOf(request.status, request.responseText));
    };
    signal.addEventListener('abort', () => request.abort(), { once: true });
    // Remove the Blob's own type, which would replace the header.
    request.send(file.slice(0, file.size, type));
  });
}

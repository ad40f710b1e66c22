import { useEffect, useState } from 'preact/hooks';
import type { CertificateView } from '../../server/api/contract/certificate.ts';
import { deviceKindOf } from '../../server/entities/device.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import '../styles/pairing.css';
import { INSTALL_STEPS, isFor } from './install-steps.ts';

/** How to install the certificate of the house. Opened by plain HTTP, before the device can use HTTPS. */
export default function CertificatePage() {
  const [certificate, setCertificate] = useState<CertificateView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  useEffect(() => {
    call('GET /api/certificate').then(setCertificate, (thrown) => setProblem(asProblem(thrown)));
  }, []);
  const kind = deviceKindOf(navigator.userAgent);
  return (
    <section class="pairing" data-testid="certificate">
      <h1>Install the certificate of this house</h1>
      {problem && <ProblemNote problem={problem} />}
      {certificate && (
        <>
          <p>
            Strandward uses HTTPS with a certificate authority that exists in your house only. Install its certificate
            once on each device. Then the device opens the page without a warning, and can show notifications while the
            page is closed. The certificate works for private names and addresses only, never for a site on the
            internet.
          </p>
          <h2>1. Download it</h2>
          <p class="actions">
            <a href={certificate.file} data-testid="certificate-file">
              Download the certificate
            </a>
          </p>
          <h2>2. Compare the fingerprint</h2>
          <p>
            The system shows it in the details of the certificate, as “SHA-256”. It must be the one that Strandward
            prints when it starts, and that this page shows if you open it on the machine itself. If it differs, don’t
            install it: someone has replaced it on the way.
          </p>
          <p class="fingerprint" data-testid="fingerprint">
            {certificate.fingerprint.split(/(?<=:)/).flatMap((pair) => [pair, <wbr />])}
          </p>
          <h2>3. Install it</h2>
          <ul class="ways">
            {INSTALL_STEPS.map((one) => (
              <li key={one.system}>
                <details open={isFor(one, kind)}>
                  <summary>{one.system}</summary>
                  <ol>
                    {one.steps.map((step) => (
                      <li key={step}>{step}</li>
                    ))}
                  </ol>
                </details>
              </li>
            ))}
          </ul>
          <h2>4. Open the page</h2>
          <p>
            <a href={`https://${location.host}/`} data-testid="secure-page">
              https://{location.host}/
            </a>
          </p>
        </>
      )}
    </section>
  );
}

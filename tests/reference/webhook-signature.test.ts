import { expect, it } from 'vitest';
import { signatureHeaders } from '../../server/notify/webhook.ts';

// The worked example of the reference implementations of Standard Webhooks (github.com/standard-webhooks, test "sign
// function works"); seen quoted with the same numbers in several independent repositories.
it('signs as the example of Standard Webhooks does', () => {
  const headers = signatureHeaders(
    'msg_p5jXN8AQM9LWM0D4loKWxJek',
    1_614_265_330,
    '{"test": 2432232314}',
    'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw',
  );
  expect(headers).toEqual({
    'webhook-id': 'msg_p5jXN8AQM9LWM0D4loKWxJek',
    'webhook-timestamp': '1614265330',
    'webhook-signature': 'v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=',
  });
});

import { describe, expect, it } from 'vitest';
import { PushReceiver } from '../notify/push-receiver.ts';

// RFC 8291, section 5 and appendix A: https://www.rfc-editor.org/rfc/rfc8291
const RECEIVER_PRIVATE = 'q1dXpw3UpT5VOmu_cf_v6ih07Aems3njxI-JWgLcM94';
const RECEIVER_PUBLIC = 'BCVxsr7N_eNgVRqvHtD0zTZsEc6-VV-JvLexhqUzORcxaOzi6-AYWXvTBHm4bjyPjs7Vd8pZGH6SRpkNtoIAiw4';
const AUTH = 'BTBZMqHH6r4Tts7J_aSIgg';
const BODY =
  'DGv6ra1nlYgDCS1FRnbzlwAAEABBBP4z9KsN6nGRTbVYI_c7VJSPQTBtkgcy27mlmlMoZIIgDll6e3vCYLocInmYWAmS6TlzAC8wEqKK6PBru3jl7A_yl95bQpu6cVPTpK4Mqgkf1CXztLVBSt2Ks3oZwbuwXPXLWyouBWLVWGNWQexSgSxsj_Qulcy4a-fN';

describe('the receiver that the web push tests decrypt with', () => {
  it('reads the example of RFC 8291', () => {
    const buffer = (text: string) => Buffer.from(text, 'base64url');
    const receiver = new PushReceiver(buffer(RECEIVER_PRIVATE), buffer(AUTH));
    expect(receiver.keys).toEqual({ p256dh: RECEIVER_PUBLIC, auth: AUTH });
    expect(receiver.decrypt(buffer(BODY)).toString()).toBe('When I grow up, I want to be a watermelon');
  });
});

import { createHash } from 'node:crypto';

/** Rows of keys, the alphabet, and zigzags down a keyboard. */
const ROWS = [
  '01234567890',
  'qwertyuiop',
  'asdfghjkl',
  'zxcvbnm',
  'abcdefghijklmnopqrstuvwxyz',
  '1qaz2wsx3edc4rfv5tgb6yhn7ujm',
];
const STEPS = new Set(ROWS.flatMap((row) => [...row].flatMap((c, i) => [c + c, c + row[i + 1], row[i + 1] + c])));

/** A run of at least three characters along a row counts as one. Of a million random keys of 12 letters and digits, 88 have fewer. */
const CHARACTERS_MIN = 6;
const RUN_MIN = 3;

/**
 * Common passwords of at least 12 characters that follow no such pattern: the start of the SHA-256 of each, in lower case, in
 * the list of @zxcvbn-ts/language-common 4.1.3 (MIT). It has 308 passwords that long; the others follow a pattern.
 */
const COMMON = new Set(
  `
0025f757 00a6b72d 00b47775 00cfe46d 015000f4 01f71c9a 024b4c2f 02f51482 032cc11f 04dbdd17 051925d0 05341415
05960492 05bb432a 0625e5bf 0647f4b0 07f53162 097cb6c3 09938f91 09a77f44 0b67c64a 0d6ffddb 0da0b943 0e3cb137
107ddcea 14864a6a 174cb751 1803c6a3 1854755c 185efd4c 18bf6edc 194828bd 1a6842ff 1a6bd4d9 1b01e30a 1b733e30
1c312dd6 1c699d06 1e3bb894 1f454e8c 23ce07fe 243d023c 2566a18c 26288d99 2675e732 27eecf97 2929e22f 2b0a8c23
2c402093 2cb3809e 2d543bbc 2f5f6ce5 31f61e77 33489d24 33d73e23 36279996 36aa15a8 3b4da2e2 3b6604d3 3b847ef7
3f5c0b5f 40f598cc 4194d170 4379b1d2 481ec310 487e420c 49d62132 4a9c53de 4ab5811e 4ac1f5ae 4acb3e62 4c73d6c7
50f48097 53a60c94 56f4ae35 58baa3c5 59e20f69 5b406272 5bd7adb0 5e9286da 5eca4891 5f3b3b61 5f50dd72 617034c2
62d9b56b 65bc867f 6678d43e 66f1fa83 67d710a5 6ae21716 6b157132 6c5f285a 6eedfb96 70e448ef 716f9ff9 7179b0b3
73476e38 7398cf10 74305616 765ad9f4 775b9c20 77b90e7e 780b10cf 789b99e9 7a01adea 7c36c5b0 7dcac91a 80da9f88
81d06fe9 8206d22f 821a2802 82ba701b 83703549 845ba5e4 84607371 84615b1a 84de1368 8768ced2 89352621 897b3120
8afbfdb8 8c5cae7c 8c6e96f7 8df95026 9015b350 9077d1af 909cde4a 9457299b 953124f5 95b3af30 95ce70d9 9a622eea
9c8f5a4a 9e15ec81 9e5a2714 9f80a5e1 a0364755 a2456ff0 a5ee70f1 a603974a a62ecb8c a68bf3b2 a90a2073 a91f0cc2
acf45488 ad9b0702 addba6a1 ae5deb86 af57f9a2 b024e840 b0256f0e b28c22cd b2c37ed1 b34564f1 b4c4d8d1 b51d7bea
b6b90102 b836be35 b8da82a4 b9c95064 ba75cd39 bce2966c bd085eb5 bea7f088 c1b59ba0 c4d308f6 c5f20a67 c6558d2c
c7e40225 c85f67ba c8ade45e c9034e49 c90bc0f6 cab18e5c cacfd524 cb5e0fac cd340d1a ce642872 d25b1b53 d4b45864
d52475ba d84a9a6b d86c8651 d8aafc4b d8aecc65 db7ad950 dbdcf01b de6278ab e000f40f e12b82d1 e168897b e36fabda
e4005e2c e49a3321 e5bdf693 e6381801 e714ccb2 e773bb5d e8d5d1b9 e8f1ad2b e9a2f4d0 ea5595cd ecef7b1e eee9c6e1
eefa1c7e f1d113f9 f1fa5d6c f3eac56e f587d4d5 f5c9316b f7bcd2d4 f952b74b fa6e5e5a fcac76b4 fcca2880
`
    .trim()
    .split(/\s/),
);

/** Whether a key is among the first that someone tries (OWASP ASVS 5.0, 6.2.4): a common password, a repeated word, or a walk over the keyboard. */
export function isGuessable(key: string): boolean {
  const lower = key.toLowerCase();
  return repeats(lower) || charactersIn(lower) < CHARACTERS_MIN || COMMON.has(startOfDigest(lower));
}

function repeats(key: string): boolean {
  for (let period = 1; period <= key.length / 2; period++) if (key.slice(period) === key.slice(0, -period)) return true;
  return false;
}

/** Characters that do not follow from those before them. */
function charactersIn(key: string): number {
  const runs: number[] = [];
  for (let i = 0; i < key.length; i++) {
    if (i > 0 && STEPS.has(key.slice(i - 1, i + 1))) runs[runs.length - 1]! += 1;
    else runs.push(1);
  }
  return runs.reduce((sum, length) => sum + (length < RUN_MIN ? length : 1), 0);
}

const startOfDigest = (key: string) => createHash('sha256').update(key).digest('hex').slice(0, 8);

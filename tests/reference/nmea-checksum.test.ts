/**
 * The checksum of IEC 61162-1 / NMEA 0183 against published sentences: the XOR of all bytes between `$` and `*`.
 */
import { describe, expect, test } from 'vitest';
import { statedChecksum } from '../../server/reading/checksum.ts';
import { LineSplitter } from '../../server/reading/line-splitter.ts';

/** The sentence's stated checksum, and the one that the splitter computes. */
function sums(sentence: string): { stated: number; computed: number } {
  const bytes = Buffer.from(sentence, 'latin1');
  const splitter = new LineSplitter();
  splitter.feed(Buffer.from(`${sentence.slice(1, -3)}\n`, 'latin1'));
  splitter.next();
  return { stated: statedChecksum(bytes, 0, bytes.length), computed: splitter.xor };
}

describe('published sentences', () => {
  test.each([
    // University of Hohenheim, page on NMEA: mpt-internal.uni-hohenheim.de
    '$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47',
    // Recorded by a GPS receiver: http://www.tigoe.net/pcomp/code/category/date/2007/11
    '$GPRMC,155123.000,A,4043.8432,N,07359.7653,W,0.15,83.25,200407,,*28',
    // Log of a NOAA research cruise, 2020, day 014:
    // https://downloads.psl.noaa.gov/psd3/cruises/ATOMIC_2020/RHB/flux/Raw_Share/20014/gps02001420_raw.txt
    '$GPHDT,74.20,T*34',
    '$GPZDA,195959.00,14,01,2020,00,00*6A',
    '$GPVTG,147.44,T,164.31,M,0.26,N,0.49,K,D*2C',
    '$GPGGA,195959.00,1541.31258893,N,05130.51204125,W,2,06,1.5,9.2,M,-37.6,M,4.0,0138*7E',
    // From memory: the sentence that most descriptions of the format use as their example.
    '$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A',
  ])('%s', (sentence) => {
    const { stated, computed } = sums(sentence);
    expect(computed).toBe(stated);
  });

  test('detects a wrong checksum in a sentence printed on a web page', () => {
    // "$HEHDT,178.3,T*1E": the checksum of its text is 22 (hex), recomputed by hand.
    const { stated, computed } = sums('$HEHDT,178.3,T*1E');
    expect(stated).toBe(0x1e);
    expect(computed).toBe(0x22);
  });
});

/** Fixed decimals against the language's own `toFixed` and `Number`, which were not used to make them. */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { feedText, fixed } from '../../lib/program/number.js';

describe('fixed', () => {
  it.each([
    [0, 4, '0'],
    [-0, 4, '0'],
    [12500, 4, '1.25'],
    [-1, 4, '-0.0001'],
    [-10000, 4, '-1'],
    [5, 0, '5'],
    [1000000, 6, '1'],
    [120, 0, '120'],
    [1234567890123, 6, '1234567.890123'],
  ])('%d at %d decimals is %s', (count, decimals, text) => {
    expect(fixed(count, decimals)).toBe(text);
  });

  it('reads back as the same number, seed 11', () => {
    const random = seeded(11);
    for (let i = 0; i < 20_000; i++) {
      const decimals = Math.floor(random() * 7);
      const count = Math.round((random() - 0.5) * 10 ** (random() * 14));
      const text = fixed(count, decimals);
      expect(text).toMatch(/^(0|-?(0|[1-9]\d*)(\.\d*[1-9])?)$/);
      expect(Number(text)).toBe(Number((count / 10 ** decimals).toFixed(decimals)));
    }
  });
});

describe('feedText', () => {
  it('keeps six significant digits from 0.1 up, seed 12', () => {
    const random = seeded(12);
    for (let i = 0; i < 20_000; i++) {
      const feed = 10 ** (-1 + 8 * random());
      const text = feedText(feed)!;
      expect(text).toMatch(/^\d+(\.\d{1,6})?$/);
      expect(Math.abs(Number(text) / feed - 1)).toBeLessThanOrEqual(5e-6);
    }
  });

  it('says nothing rather than 0', () => {
    expect(feedText(4e-7)).toBeUndefined();
    expect(feedText(6e-7)).toBe('0.000001');
  });
});

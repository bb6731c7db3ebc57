/** What is decided before curved layers are sliced. */
import { expect, test } from 'vitest';
import { refuseHopeless, tooNear } from '../../lib/job/choose-form.js';

test('a field that leaves more than flat layers by facets is refused with both figures', () => {
  expect(() => refuseHopeless(12.34, { hangingMm2: 12.5 })).toThrow(
    /curved ones leave 12\.5 mm2 hanging, flat ones 12\.3 mm2/,
  );
  expect(() => refuseHopeless(12.34, { hangingMm2: 12.34 })).not.toThrow();
});

test('curved layers are too near below half the clearance, unless flat ones come as near', () => {
  const at = (gap: number) => ({
    leastGap: {
      gap,
      between: ['the head', 'region 1'] as const,
      region: 0,
      layer: 0,
      point: [0, 0, 0] as const,
    },
  });
  const none = { leastGap: undefined };
  expect(tooNear(at(0.51), at(3), 1)).toBeUndefined();
  expect(tooNear(at(0.49), at(3), 1)).toBe(
    'in curved ones the head and region 1 come within 0.49 mm; the limit is 0.50 mm',
  );
  expect(tooNear(at(0.49), none, 1)).toMatch(/the limit is 0\.50 mm$/);
  expect(tooNear(at(0.31), at(0.3), 1)).toBeUndefined();
  expect(tooNear(at(0.29), at(0.3), 1)).toMatch(/within 0\.29 mm; the limit is 0\.30 mm$/);
  expect(tooNear(none, at(3), 1)).toBeUndefined();
});

/** What is decided before curved layers are sliced. */
import { expect, test } from 'vitest';
import { refuseHopeless } from '../../lib/job/choose-form.js';

test('a field that leaves more than flat layers by facets is refused with both figures', () => {
  expect(() => refuseHopeless(12.34, { hangingMm2: 12.5 })).toThrow(
    /curved ones leave 12\.5 mm2 hanging, flat ones 12\.3 mm2/,
  );
  expect(() => refuseHopeless(12.34, { hangingMm2: 12.34 })).not.toThrow();
});

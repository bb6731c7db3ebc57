/** Missing material as an error: from a connected area on, where a bead would fit. */
import { describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { areasOf } from '../../lib/verify/areas.js';
import { checkRules } from '../../lib/verify/rules.js';
import { verify } from '../../lib/verify/verify.js';
import type { Surface } from '../../lib/verify/shape.js';
import { cuboid } from '../support/shapes.js';
import { Pen, printer } from './prints.js';

/** Samples on a row, 0.5 mm apart, of a quarter of a square millimetre each. */
function row(xs: readonly number[]): Surface {
  const n = xs.length;
  return {
    points: Float32Array.from(xs.flatMap((x) => [x, 0.5, 0.5])),
    normals: new Float32Array(3 * n),
    triangle: new Uint32Array(n),
    area: new Float32Array(n).fill(0.25),
    error: Float32Array.from(xs, () => -1),
    skin: new Float32Array(n),
  };
}

describe('connected areas', () => {
  it('samples half a millimetre apart are one, a gap of more than two cells parts them', () => {
    const xs = [0.1, 0.6, 1.1, 1.6, 2.1, 6.1, 6.6];
    const areas = areasOf(row(xs), () => true);
    expect(areas.map(({ area }) => area)).toEqual([1.25, 0.5]);
    expect(areas.map(({ samples }) => [...samples].sort())).toEqual([
      [0, 1, 2, 3, 4],
      [5, 6],
    ]);
  });
  it('only samples that are asked for', () => {
    expect(areasOf(row([0.1, 0.6, 1.1]), (i) => i === 1).map(({ samples }) => samples)).toEqual([
      [1],
    ]);
  });
});

describe('a box of 10 x 8 mm, solid, of layers 0.2 mm high', () => {
  const [X, Y, W, H] = [10, 8, 0.4, 0.2];
  const box = cuboid([X, Y, 4]);
  /** Printed up to a layer. */
  function printed(layers: number): string[] {
    const pen = new Pen();
    pen.move([-X / 2, 0, 30]);
    for (let k = 1; k <= layers; k++) {
      for (let y = -Y / 2 + W / 2; y < Y / 2; y += W) {
        pen.move([-X / 2, y, k * H]);
        pen.lay([X / 2, y, k * H], W, H);
      }
    }
    return pen.lines;
  }
  const missing = (layers: number, surface?: number): Finding[] => {
    const bounds = checkRules.parse(surface === undefined ? {} : { surface });
    return verify(printed(layers).join('\n'), printer(), {
      part: box,
      bounds,
    }).check.findings.filter((f) => f.code === 'verify/missing');
  };
  it('whole: nothing is missing', () => {
    expect(missing(20)).toEqual([]);
  });
  it('the last five layers are not there: an error, of the whole top and what stands beside it', () => {
    const [found, more] = missing(15);
    expect(more).toBeUndefined();
    expect(found!.severity).toBe('error');
    const area = Number(/over (\S+) mm2/.exec(found!.message)![1]);
    // The top, and of the sides what lies more than half a bead and a cube over the last layer.
    expect(area).toBeGreaterThan(X * Y);
    expect(area).toBeLessThan(X * Y + 2 * (X + Y) * 1);
  });
  it('a wider bound makes it a warning', () => {
    expect(missing(15, 1000).map((f) => f.severity)).toEqual(['warning']);
  });
});

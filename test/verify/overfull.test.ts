/** Too much material, on boxes spelled by hand: volumes by multiplication. */
import { describe, expect, it } from 'vitest';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { type ProgramCheck, verify } from '../../lib/verify/verify.js';
import { cuboid } from '../support/shapes.js';
import { Pen, printer } from './prints.js';

const [W, H] = [0.4, 0.2];
const box = cuboid([16, 16, 4]);

/** A box of 16 x 16 x 4 with beads along X, each laid as many times as `times` says. */
function laid(times: (bead: number, layer: number) => number, part?: Mesh): ProgramCheck {
  const pen = new Pen();
  pen.move([0, 0, 30]);
  for (let k = 0; k < 20; k++) {
    for (let i = 0; i < 40; i++) {
      for (let n = 0; n < times(i, k); n++) {
        const [y, z] = [(i + 0.5) * W - 8, (k + 1) * H];
        pen.move([-8, y, z]);
        pen.lay([8, y, z], W, H);
      }
    }
  }
  return verify(pen.text(), printer(), part ? { part } : {}).check;
}

describe('a box of which beads are laid twice', () => {
  it('each once: no cell is too full', () => {
    expect(laid(() => 1, box).print!.overfullMm3).toBe(0);
  });
  it('all of ten layers twice: as much as they hold has no room', () => {
    const check = laid((_, k) => (k >= 5 && k < 15 ? 2 : 1), box);
    // 16 x 16 x 2 mm3, without cells of 1.6 mm of which less than a quarter lies in those layers.
    expect(check.print!.overfullMm3 / 512).toBeGreaterThan(0.7);
    expect(check.print!.overfullMm3 / 512).toBeLessThan(1.01);
    expect(check.counts['verify/overfull']).toBeGreaterThan(100);
  });
  it('every second one twice and the others never: there is room beside them, in the part', () => {
    const odd = (i: number): number => 2 * (i % 2);
    // Cells at the sides see the part in steps of 0.4 mm.
    expect(laid(odd, box).print!.overfullMm3 / 512).toBeLessThan(0.03);
    // Without a part nothing says that there is to be material.
    expect(laid(odd).print!.overfullMm3).toBeGreaterThan(400);
  });
});

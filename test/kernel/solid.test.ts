/**
 * The solid kernel against closed forms. Volumes of booleans of boxes are exact; the largest float32
 * rounding in these shapes is stated beside each tolerance.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { shift } from '../../lib/base/frame.js';
import { Fault } from '../../lib/base/fault.js';
import { type SolidKernel, loadSolidKernel } from '../../lib/kernel/solid.js';
import { meshFrom, moved } from '../../lib/mesh/build.js';
import { bounds, massOf } from '../../lib/mesh/measure.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { turnedOver } from '../../lib/mesh/repair/orient.js';
import { cuboid, hollowSphere, icosphere, sphere, together, torus } from '../support/shapes.js';
import { bunny69k, gearwheel } from '../support/open-meshes.js';

let kernel: SolidKernel;
beforeAll(async () => {
  kernel = await loadSolidKernel();
});

/** Volume by the divergence theorem, of our own: a second opinion on what the kernel hands back. */
const volume = (m: Mesh): number => massOf(m).volume;
const closed = (m: Mesh): boolean => !m.twins.includes(-1) && m.triangles.length > 0;
const box = (size: [number, number, number], at: [number, number, number]): Mesh =>
  cuboid(size, at);

describe('judge', () => {
  it('accepts a cube of 10 mm: volume 1000 (closed form), genus 0', () => {
    expect(kernel.judge(box([10, 10, 10], [0, 0, 0]))).toMatchObject({
      accepted: true,
      genus: 0,
      volume: expect.closeTo(1000, 6) as number,
    });
  });

  it('finds genus 1 in a torus, 2 in two tori (Euler: V - E + F = 0 for each)', () => {
    const one = torus(20, 5, 48, 24);
    expect(kernel.judge(one).genus).toBe(1);
    expect(kernel.judge(together(one, moved(one, shift([0, 0, 30])))).genus).toBe(2);
  });

  it('finds genus 0 in a hollow sphere, whose two surfaces are spheres', () => {
    expect(kernel.judge(hollowSphere(10, 8, 32)).genus).toBe(0);
  });

  it('measures a torus within 2e-4 of 2 pi^2 R r^2 (Pappus), at 512 x 256 facets', () => {
    const exact = 2 * Math.PI ** 2 * 20 * 25;
    expect(Math.abs(kernel.volume(torus(20, 5, 512, 256)) / exact - 1)).toBeLessThan(2e-4);
  });

  it('refuses an open mesh and says why', () => {
    const cube = box([10, 10, 10], [0, 0, 0]);
    const open = meshFrom(cube.vertices, cube.triangles.slice(3));
    const judged = kernel.judge(open);
    expect(judged.accepted).toBe(false);
    expect(judged.why).toMatch(/shared by exactly two/);
  });

  it('refuses a vertex that is not finite', () => {
    const cube = box([10, 10, 10], [0, 0, 0]);
    const vertices = cube.vertices.slice();
    vertices[0] = NaN;
    expect(kernel.judge({ ...cube, vertices })).toMatchObject({ accepted: false, volume: 0 });
  });

  it('gives an inside-out cube a negative volume', () => {
    expect(kernel.judge(turnedOver(box([10, 10, 10], [0, 0, 0])))).toMatchObject({
      accepted: true,
      volume: expect.closeTo(-1000, 6) as number,
    });
  });
});

describe('booleans of two boxes that share a corner cube of 5 mm', () => {
  const a = box([10, 10, 10], [0, 0, 0]);
  const b = box([10, 10, 10], [5, 5, 5]);

  it.each([
    ['union', 1000 + 1000 - 125, (): Mesh => kernel.unite([a, b])],
    ['difference', 1000 - 125, (): Mesh => kernel.difference(a, b)],
    ['intersection', 125, (): Mesh => kernel.intersection(a, b)],
  ])('%s: %d mm3 (closed form)', (_, expected, make) => {
    const result = make();
    expect(closed(result)).toBe(true);
    // Coordinates of 10 mm in float32: 5e-7 mm, on an area of 600 mm2.
    expect(Math.abs(volume(result) - expected)).toBeLessThan(3e-4);
  });

  it('keeps boxes apart that do not touch, and gives an empty mesh for nothing', () => {
    const apart = kernel.unite([a, box([10, 10, 10], [50, 0, 0])]);
    expect(volume(apart)).toBeCloseTo(2000, 3);
    expect(kernel.unite([]).triangles.length).toBe(0);
    expect(kernel.intersection(a, box([10, 10, 10], [50, 0, 0])).triangles.length).toBe(0);
  });

  it('throws a Fault with a code for an open operand', () => {
    const open = meshFrom(a.vertices, a.triangles.slice(3));
    expect(() => kernel.unite([a, open])).toThrow(Fault);
    expect(() => kernel.unite([a, open])).toThrow(/bounds no solid/);
  });
});

describe('cut', () => {
  it('parts a sphere at z = 6 into a cap and a rest: pi h^2 (3 R - h) / 3 (closed form)', () => {
    const ball = icosphere(10, 5);
    const { above, below } = kernel.cut(ball, { point: [3, 4, 6], normal: [0, 0, 1] });
    const cap = (Math.PI * 16 * (30 - 4)) / 3;
    // 20,480 facets lie inside the sphere: about 0.15 % of the volume is missing.
    expect(Math.abs(volume(above) / cap - 1)).toBeLessThan(5e-3);
    expect(volume(above) + volume(below)).toBeCloseTo(volume(ball), 2);
    expect(bounds(above).least[2]).toBeCloseTo(6, 5);
    expect(bounds(below).most[2]).toBeCloseTo(6, 5);
    expect(closed(above) && closed(below)).toBe(true);
  });

  it('cuts obliquely, away from the origin, into equal halves through the centre', () => {
    const cube = box([10, 10, 10], [1000, -500, 200]);
    const s = Math.SQRT1_2;
    const { above, below } = kernel.cut(cube, { point: [1000, -500, 205], normal: [s, 0, s] });
    expect(volume(above)).toBeCloseTo(500, 3);
    expect(volume(below)).toBeCloseTo(500, 3);
  });
});

describe('hull', () => {
  it('of a torus is the body of rotation of its outline: pi r^2 . 2 pi x + ... (Pappus, limits)', () => {
    // Section of the hull: a rectangle R x 2r and a half disc, turned about the axis.
    const [R, r] = [20, 5];
    const exact =
      Math.PI * R ** 2 * 2 * r +
      2 * Math.PI * ((Math.PI * r ** 2) / 2) * (R + (4 * r) / (3 * Math.PI));
    const hull = kernel.hull(torus(R, r, 256, 128));
    expect(closed(hull)).toBe(true);
    expect(Math.abs(volume(hull) / exact - 1)).toBeLessThan(1e-3);
  });

  it('takes an open mesh, and gives nothing for points in a plane', () => {
    const cube = box([10, 20, 30], [0, 0, 0]);
    expect(volume(kernel.hull(meshFrom(cube.vertices, cube.triangles.slice(9))))).toBeCloseTo(
      6000,
      2,
    );
    const flat = meshFrom(
      new Float64Array([0, 0, 0, 1, 0, 0, 0, 1, 0]),
      new Uint32Array([0, 1, 2]),
    );
    expect(kernel.hull(flat).triangles.length).toBe(0);
  });
});

describe('simplify', () => {
  it('takes a cube of many facets back to 12, with every corner exact', () => {
    // Six faces of n x n squares, welded by the kernel's own union of slabs.
    const slabs = Array.from({ length: 8 }, (_, i) => box([10, 10, 1.25], [0, 0, 1.25 * i]));
    const tower = kernel.unite(slabs);
    const simple = kernel.simplify(tower, 0.01);
    expect(simple.triangles.length / 3).toBe(12);
    expect(volume(simple)).toBeCloseTo(1000, 3);
  });

  it('keeps a sphere within its tolerance and moves no vertex', () => {
    const ball = icosphere(10, 5);
    const simple = kernel.simplify(ball, 0.05);
    expect(simple.triangles.length).toBeLessThan(0.5 * ball.triangles.length);
    expect(closed(simple)).toBe(true);
    const original = new Set<string>();
    for (let i = 0; i < ball.vertices.length; i += 3)
      original.add(ball.vertices.slice(i, i + 3).join());
    for (let i = 0; i < simple.vertices.length; i += 3) {
      expect(original.has(simple.vertices.slice(i, i + 3).join())).toBe(true);
    }
    expect(Math.abs(volume(simple) / volume(ball) - 1)).toBeLessThan(0.02);
  });
});

describe('float32 inside, float64 outside', () => {
  it('gives input vertices back bit for bit, far from the origin too', () => {
    const part = moved(gearwheel(), shift([1234.56789012345, -987.654321, 0.1]));
    const same = kernel.unite([part]);
    const own = new Set<string>();
    for (let i = 0; i < part.vertices.length; i += 3) own.add(part.vertices.slice(i, i + 3).join());
    let kept = 0;
    for (let i = 0; i < same.vertices.length; i += 3) {
      if (own.has(same.vertices.slice(i, i + 3).join())) kept++;
    }
    expect(kept).toBe(same.vertices.length / 3);
    expect(volume(same) / volume(part)).toBeCloseTo(1, 12);
  });
});

describe('a real part', () => {
  it('cuts the scanned bunny into halves whose volumes sum to the whole within 1e-6', () => {
    const part = bunny69k();
    const whole = volume(part);
    const { above, below } = kernel.cut(part, { point: [-0.02, 0.1, 0], normal: [0.6, 0.8, 0] });
    expect(Math.abs((volume(above) + volume(below)) / whole - 1)).toBeLessThan(1e-6);
    expect(kernel.judge(above).accepted && kernel.judge(below).accepted).toBe(true);
  });

  it('leaves no handle behind: booleans do not grow the memory of the library', async () => {
    const own = await loadSolidKernel();
    const a = sphere(10, 128);
    const b = moved(a, shift([5, 0, 0]));
    for (let i = 0; i < 3; i++) own.unite([a, b]);
    const before = process.memoryUsage().external;
    for (let i = 0; i < 25; i++) own.unite([a, b]);
    // 25 unions of 8,192 facets that are not deleted take 58 MB (tried with the library alone).
    expect(process.memoryUsage().external - before).toBeLessThan(25 * 2 ** 20);
  });
});

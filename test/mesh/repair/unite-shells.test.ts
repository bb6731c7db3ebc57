/**
 * Several shells as one boundary by the Positive rule (3MF core specification 1.4.0, section 4.1.1:
 * a point is inside where the shells wind round it one time or more). Volumes are closed forms.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import { type SolidKernel, loadSolidKernel } from '../../../lib/kernel/solid.js';
import { massOf } from '../../../lib/mesh/measure.js';
import type { Mesh } from '../../../lib/mesh/mesh.js';
import { turnedOver } from '../../../lib/mesh/repair/orient.js';
import { uniteShells } from '../../../lib/mesh/repair/unite-shells.js';
import { joined, shellsOf } from '../../../lib/mesh/shells.js';
import { cuboid, icosphere } from '../../support/shapes.js';

let kernel: SolidKernel;
beforeAll(async () => {
  kernel = await loadSolidKernel();
});

/** A box by its middle in x and y, its base height and its edge; `in` faces inwards. */
const box = (edge: number, x = 0, z = 0, y = 0): Mesh => cuboid([edge, edge, edge], [x, y, z]);
const inward = (m: Mesh): Mesh => turnedOver(m);

interface Case {
  readonly name: string;
  readonly shells: () => Mesh[];
  readonly turn: { volume: number; codes: string[] };
  readonly void: { volume: number; codes: string[] };
}

const UNITED = 'mesh/shells-united';
const same = (volume: number, codes: string[] = []): Pick<Case, 'turn' | 'void'> => ({
  turn: { volume, codes },
  void: { volume, codes },
});

const CASES: Case[] = [
  { name: 'one box', shells: () => [box(10)], ...same(1000) },
  { name: 'two boxes apart', shells: () => [box(10), box(10, 30)], ...same(2000) },
  {
    name: 'two boxes that overlap by half',
    shells: () => [box(10), box(10, 5)],
    ...same(1500, [UNITED]),
  },
  {
    name: 'two boxes with a common face',
    shells: () => [box(10), box(10, 10)],
    ...same(2000, [UNITED]),
  },
  {
    name: 'two boxes with part of a face in common',
    shells: () => [box(10), box(4, 7, 3)],
    ...same(1064, [UNITED]),
  },
  { name: 'the same box twice', shells: () => [box(10), box(10)], ...same(1000, [UNITED]) },
  {
    name: 'a box in the material of another',
    shells: () => [box(10), box(2, 0, 4)],
    ...same(1000, [UNITED]),
  },
  { name: 'a box with a cavity', shells: () => [box(10), inward(box(2, 0, 4))], ...same(992) },
  {
    name: 'a box in the cavity of a box',
    shells: () => [box(10), inward(box(6, 0, 2)), box(2, 0, 4)],
    ...same(792),
  },
  {
    name: 'a cavity of one box that another box fills',
    shells: () => [box(10), inward(box(2, 0, 4)), box(4, 0, 3)],
    ...same(1000, [UNITED]),
  },
  {
    name: 'a cavity in a box that overlaps a box, the cavity half filled by it',
    // Boxes -5..5 and 0..10 in x; the cavity -1..1 in x keeps its left half.
    shells: () => [box(10), inward(box(2, 0, 4)), box(10, 5)],
    ...same(1500 - 4, [UNITED]),
  },
  {
    name: 'three boxes in a row, each overlapping the next',
    shells: () => [box(10), box(10, 8), box(10, 16)],
    ...same(2600, [UNITED]),
  },
  {
    name: 'a box inside out',
    shells: () => [inward(box(10))],
    turn: { volume: 1000, codes: ['mesh/inside-out'] },
    void: { volume: 0, codes: ['mesh/void-dropped'] },
  },
  {
    name: 'a hollow box wholly inside out: both shells turn',
    shells: () => [inward(box(10)), box(2, 0, 4)],
    turn: { volume: 992, codes: ['mesh/inside-out'] },
    void: { volume: 0, codes: ['mesh/void-dropped'] },
  },
  {
    name: 'one of two boxes inside out',
    shells: () => [box(10), inward(box(10, 30))],
    turn: { volume: 2000, codes: ['mesh/inside-out'] },
    void: { volume: 1000, codes: ['mesh/void-dropped'] },
  },
  {
    name: 'an inside-out box that overlaps another by half',
    shells: () => [box(10), inward(box(10, 5))],
    turn: { volume: 1500, codes: ['mesh/inside-out', UNITED] },
    void: { volume: 500, codes: ['mesh/void-cut'] },
  },
  {
    name: 'an inside-out box in the cavity of a box',
    shells: () => [box(10), inward(box(6, 0, 2)), inward(box(2, 0, 4))],
    turn: { volume: 792, codes: ['mesh/inside-out'] },
    void: { volume: 784, codes: ['mesh/void-dropped'] },
  },
];

describe.each(CASES)('$name', ({ shells, ...expected }) => {
  it.each(['turn', 'void'] as const)('inward shells: %s', (inwardMeans) => {
    const { mesh, findings } = uniteShells(joined(shells()), kernel, inwardMeans);
    const { volume, codes } = expected[inwardMeans];
    expect(findings.map((f) => f.code)).toEqual(codes);
    // Booleans go through float32: 10 mm are exact to 5e-7 mm, on at most 2,000 mm2.
    expect(Math.abs(massOf(mesh).volume - volume)).toBeLessThan(1e-3);
    expect(mesh.twins.includes(-1)).toBe(false);
  });
});

it('two spheres whose surfaces cross: the union of two caps (closed form), at 20,480 facets each', () => {
  // Radius 10, centres 10 apart: each loses half the lens, caps of height 5: pi h^2 (3 R - h) / 3 each.
  const ball = icosphere(10, 5);
  const other = { ...ball, vertices: ball.vertices.map((x, i) => (i % 3 === 0 ? x + 10 : x)) };
  const { mesh } = uniteShells(joined([ball, other]), kernel, 'turn');
  const exact = 2 * ((4 / 3) * Math.PI * 1000) - 2 * ((Math.PI * 25 * (30 - 5)) / 3);
  expect(Math.abs(massOf(mesh).volume / exact - 1)).toBeLessThan(3e-3);
  expect(shellsOf(mesh).count).toBe(1);
});

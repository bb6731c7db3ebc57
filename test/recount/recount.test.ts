/**
 * The recount itself against published values and closed forms, and what it finds in programs of the
 * planner: nothing in sound ones, and each fault that is planted. `npm run recount` does the same over
 * the whole corpus on every sample machine.
 */
import { describe, expect, it, test } from 'vitest';
import { loadSolidKernel } from '../../lib/kernel/solid.js';
import { writeProgram } from '../../lib/program/write-program.js';
import { type Json, acJson, bcJson, machineOf } from '../machine/machines.js';
import { type BoxJob, boxJob, material, plannedBoxes } from '../motion/jobs.js';
import { loadShapes, postWithArm } from '../support/shapes.js';
import { seeded } from '../../lib/base/random.js';
import { boxMesh, turnedMesh } from './bodies.js';
import { machineNames } from './cases.js';
import { Chain, type File, type FileMesh, place } from './chain.js';
import { countViolations } from './limits.js';
import { meshSolid } from './mesh.js';
import { readMoves } from './program.js';
import { type Recounted, recount, recountText } from './recount.js';
import { SPACING, box, cut, solidOf, turned } from './solids.js';

describe('kinematics', () => {
  // Values agree with an independent published implementation of J = r + d + R(tilt) [Rz(C)(p - r) - d],
  // in which the table turns by + about its own axes.
  it.each([
    ['AC1', acJson(), [30, 0], [10, 2.320508076, 35.980762114]],
    ['AC2', acJson(), [0, 90], [-20, 10, 30]],
    ['AC3', acJson(), [30, 60], [-12.320508076, 1.160254038, 35.310889132]],
    [
      'AC4',
      acJson('body', [0, 0, 0], [0, 5, -40]),
      [30, 60],
      [-12.320508076, -18.169872981, 27.451905284],
    ],
    ['BC1', bcJson(), [30, 60], [4.330127019, 18.660254038, 32.141016151]],
    [
      'BC2',
      bcJson('body', [0, 0, 0], [4, 0, -25]),
      [30, 60],
      [17.366025404, 18.660254038, 30.791651246],
    ],
  ] as const)('%s: the part point 10 20 30 under the tip', (_, json, turns, joints) => {
    const chain = new Chain(json as unknown as File);
    chain.set([0, 0, 0, ...turns]);
    place(chain.carried.at(4)!, [10, 20, 30]).forEach((x, c) =>
      expect(x).toBeCloseTo(joints[c]!, 8),
    );
    // ISO 841 names the tool's motion: the same angles with the other sign.
    const tool = new Chain({ ...(json as unknown as File), positive: 'tool' });
    tool.set([0, 0, 0, -turns[0], -turns[1]]);
    place(tool.carried.at(4)!, [10, 20, 30]).forEach((x, c) =>
      expect(x).toBeCloseTo(joints[c]!, 8),
    );
  });
});

test('distances of solids are their closed forms', () => {
  const b = box([-3, -4, -5], [3, 4, 5]);
  expect(b.distance(5, 7, 11)).toBeCloseTo(7, 12); // 2, 3, 6 beyond a corner
  expect(b.distance(2, 0, 0)).toBeCloseTo(-1, 12);
  const c = solidOf({ shape: 'cylinder', from: [1, 0, 0], to: [9, 0, 0], radius: 2 });
  expect(c.distance(12, 0, 6)).toBeCloseTo(5, 12); // 3 beyond the end, 4 beyond the rim
  expect(c.distance(5, 0, 0.5)).toBeCloseTo(-1.5, 12);
  // A cone of half-angle atan 3/4 on its apex: flank normal (4, -3) / 5.
  const cone = [
    { above: 0, radius: 0 },
    { above: 4, radius: 3 },
  ];
  expect(turned(cone).distance(0, 6, 1)).toBeCloseTo(4.2, 12);
  expect(turned(cone).distance(0, 0, 2)).toBeCloseTo(-1.2, 12);
  expect(cut(cone, 2, true)).toEqual([{ above: 2, radius: 1.5 }, cone[1]]);
});

describe('a mesh as a solid', () => {
  // A block with a pocket in its top, 4 mm square and 2 mm deep: shells that overlap and one inside out.
  const block = boxMesh([-5, -5, 0], [5, 5, 6]);
  const pocket = boxMesh([-2, -2, 1], [2, 2, 5]);
  const hollow: FileMesh = {
    shape: 'mesh',
    vertices: [...block.vertices, ...pocket.vertices],
    triangles: [
      ...block.triangles,
      ...pocket.triangles.map(([a, b, c]) => [a + 8, c + 8, b + 8] as const),
    ],
  };

  it('has the distances of a box, and of what of it lies over a height or under it, seed 71', () => {
    const random = seeded(71);
    const pairs = [
      [meshSolid(block), box([-5, -5, 0], [5, 5, 6])],
      [meshSolid(block, 2), box([-5, -5, 2], [5, 5, 6])],
      [meshSolid(block, -Infinity, 2), box([-5, -5, 0], [5, 5, 2])],
    ] as const;
    for (let n = 0; n < 3000; n++) {
      const p = [0, 1, 2].map(() => 24 * random() - 12) as [number, number, number];
      for (const [mesh, exact] of pairs)
        expect(mesh.distance(...p)).toBeCloseTo(exact.distance(...p), 5);
    }
  });

  it('is not there in a cavity, and is where two shells reach into one another', () => {
    const solid = meshSolid(hollow);
    expect(solid.distance(0.5, 0, 3)).toBeCloseTo(1.5, 6);
    expect(solid.distance(3.5, 0, 3)).toBeCloseTo(-1.5, 6);
    const both = meshSolid({
      ...block,
      vertices: [...block.vertices, ...boxMesh([3, -1, 1], [9, 1, 3]).vertices],
      triangles: [
        ...block.triangles,
        ...block.triangles.map(([a, b, c]) => [a + 8, b + 8, c + 8] as const),
      ],
    });
    expect(both.distance(4, 0, 2)).toBeLessThan(0);
    expect(both.distance(8.5, 0, 2)).toBeCloseTo(-0.5, 6);
    expect(both.distance(0, 0, 5)).toBeCloseTo(-1, 6);
  });

  it('has a skin with no hole of more than the spacing, on it, cuts too', () => {
    const { skin, distance } = meshSolid(
      turnedMesh([
        { above: 0, radius: 4 },
        { above: 9, radius: 8 },
      ]),
      3,
    );
    const random = seeded(72);
    for (let i = 0; i < skin.length; i += 3) {
      expect(Math.abs(distance(skin[i]!, skin[i + 1]!, skin[i + 2]!))).toBeLessThan(1e-5);
    }
    for (let n = 0; n < 500; n++) {
      // On the flank, a chord's height inside the cone, or on the cut at 3 mm.
      const [a, s] = [2 * Math.PI * random(), 3 + 6 * random()];
      const r = n % 2 === 0 ? 4 + (4 * s) / 9 : (4 + 12 / 9) * random();
      const p = [r * Math.cos(a), r * Math.sin(a), n % 2 === 0 ? s : 3] as const;
      let least = Infinity;
      for (let i = 0; i < skin.length; i += 3) {
        least = Math.min(
          least,
          Math.hypot(skin[i]! - p[0], skin[i + 1]! - p[1], skin[i + 2]! - p[2]),
        );
      }
      expect(least).toBeLessThan(SPACING);
    }
  });
});

test('time of a block: 10 mm at F600 1 s; F2 in G93 half a minute', () => {
  const text =
    'G21 G90 G94\nG1 X10 F600\nG93 X20 C90 F2\n(region 2, layer 1 of 1)\nG94 C0 E1 F5400';
  const { seconds, region, filament } = readMoves(text, acJson() as unknown as File);
  expect([...seconds]).toEqual([1, 30, expect.any(Number)]);
  // 90 deg at a radius of 20 mm, F the speed of the tip over the part: arc 10 pi.
  expect(seconds[2]).toBeCloseTo((10 * Math.PI) / 90, 4);
  expect([...region]).toEqual([0, 0, 2]);
  expect([...filament]).toEqual([0, 0, 1]);
});

describe('limits', () => {
  const told = (text: string): string[] => {
    const file = acJson() as unknown as File;
    return countViolations(file, readMoves(`G94\n${text}`, file), 0.05).map((v) => v.what);
  };

  it('travel and speed: X to 500 mm, at most 200 mm/s', () => {
    expect(told('G1 X500 F12000')).toEqual([]);
    expect(told('G1 X501 F6000')).toEqual(['X at 501, travel -500 to 500']);
    expect(told('G1 X100 F12600')).toEqual(['X at 210.00 a second, limit 200']);
  });

  it('acceleration of 2000 mm/s2: 1 mm from rest to rest reaches sqrt(2000) = 44.7 mm/s', () => {
    expect(told('G1 X1 F2640')).toEqual([]);
    expect(told('G1 X1 F3600')).toEqual([expect.stringMatching(/60.00 mm\/s of way, where 44.72/)]);
  });

  it('a circle: sqrt(a R) = 100 mm/s at 5 mm, and sqrt 2 of its square askew of the joints', () => {
    const circle = (f: number): string =>
      Array.from({ length: 121 }, (_, i) => {
        const a = (2 * Math.PI * i) / 60;
        return `G1 X${(5 * Math.cos(a)).toFixed(4)} Y${(5 * Math.sin(a)).toFixed(4)} F${f}`;
      }).join('\n');
    const ways = (f: number): string[] =>
      told(`G1 X5 F600\n${circle(f)}`).filter((w) => /of way/.test(w));
    // From rest and to rest v^2 / 2 a = 2.4 mm each, chords of 0.52 mm.
    expect(ways(5900).length).toBeLessThan(2 * 6);
    expect(ways(9000).length).toBeGreaterThan(40);
  });
});

describe('programs of the planner', () => {
  const program = (json: Json, parts: readonly BoxJob[]): string => {
    const machine = machineOf(json);
    const { motion } = plannedBoxes(machine, parts, { touch: 'report' });
    return writeProgram(motion, machine, material(), { part: 'planted' }).chunks.join('');
  };
  const counted = (json: Json, parts: readonly BoxJob[]): Recounted =>
    recountText(program(json, parts), json as unknown as File);
  const UP = [0, 0, 1] as const;
  const json: Json = { ...acJson(), ready: { Z: 80 } };
  // A bar 0.6 mm high between posts of 14 mm, 14 mm apart: the head is 9 mm wide 8 mm over the tip.
  const posts = [boxJob([-13, -4, 0], [-7, 4, 14], UP), boxJob([7, -4, 0], [13, 4, 14], UP)];
  const bar = boxJob([-4, -4, 0], [4, 4, 0.6], UP);

  it('the bar first, its neighbours a clearance of the head away: nothing', () => {
    const { count, violations, least, steps } = counted(json, [bar, posts[0]!]);
    expect([count, violations]).toEqual([0, []]);
    expect(least).toBeGreaterThan(0.99);
    expect(steps).toBeGreaterThan(10_000);
  });

  it('planted, a bad order: the bar last', () => {
    const { count, worst } = counted(json, [...posts, bar]);
    expect(count).toBeGreaterThan(100);
    // Tip 0.2 mm high at x = 3, beside a post of 14 mm whose beads begin at 7.775: the flat 8 mm over the
    // tip lies 5.8 mm under its top, the flank, 11.37 mm out and leaning 9 in 22, 6.1 mm further out.
    const { between, depth } = worst[0]!;
    expect(between).toBe('head and what is laid');
    expect(depth).toBeCloseTo(5.8, 2);
  });

  it('planted, a low transfer: through the post half a millimetre under its top, over it by 1 mm', () => {
    const sound = program(json, [posts[0]!]).replace(/M2\s*$/, '');
    const across = (z: number): Recounted =>
      recountText(
        `${sound}G94 G1 X-60 Y0 Z60 F3000\nG1 Z${z} F1200\nG1 X40 F6000\nG1 Z60 F1200\nM2\n`,
        json as unknown as File,
      );
    expect(across(13.5).worst[0]!.between).toBe('nozzle and what is laid');
    expect(across(13.5).worst[0]!.depth).toBeCloseTo(0.5, 1);
    expect(across(15).count).toBe(0);
  });

  it('planted, an over-long head: a fan that hangs lower than the post is high', () => {
    const fan = (bottom: number): Json => ({
      ...json,
      head: {
        ...json.head,
        boxes: [{ shape: 'box', from: [-30, -8, bottom], to: [-20, 8, bottom + 20] }],
      },
    });
    const other = boxJob([8, -4, 0], [14, 4, 0.4], UP);
    expect(counted(fan(22), [posts[0]!, other]).count).toBe(0);
    const { worst } = counted(fan(10), [posts[0]!, other]);
    expect(worst.map((t) => t.between)).toContain('head and what is laid');
  });

  describe('with head, duct and table as meshes', () => {
    const duct = { name: 'cable duct', carriedBy: 'frame' };
    const inMesh = (head: FileMesh[], stack: Json['head']['stack'] = []): File => {
      const { thickness, ...table } = json.table;
      return {
        ...json,
        head: { ...json.head, stack, meshes: head },
        table: { ...table, mesh: boxMesh([-100, -100, -thickness!], [100, 100, 0]) },
        obstacles: [{ ...duct, solid: boxMesh([40, -60, 60], [46, 60, 66]) }],
      } as unknown as File;
    };
    const { stack } = json.head;
    const sound = program(json, [bar, posts[0]!]);
    /** A low block 16 mm beside a post. */
    const apart = program(json, [posts[0]!, boxJob([8, -4, 0], [14, 4, 0.4], UP)]);

    it('the bar first: nothing, planned with the meshes and counted with them', () => {
      const file = inMesh([turnedMesh(stack!)]);
      const { count, violations, least } = recountText(
        program(file as unknown as Json, [bar, posts[0]!]),
        file,
      );
      expect([count, violations]).toEqual([0, []]);
      expect(least).toBeGreaterThan(0.99);
    });

    it('planted, the bar last: as deep as with radii, 5.8 mm', () => {
      const { worst } = recountText(program(json, [posts[1]!, bar]), inMesh([turnedMesh(stack!)]));
      expect(worst[0]!.between).toBe('head and what is laid');
      expect(worst[0]!.depth).toBeCloseTo(5.8, 2);
    });

    it('planted, a head that is too wide', () => {
      // Tips at x = 9 and more: the head itself ends 5 mm beside the post, a lip of 22 mm in its far side.
      const lip = turnedMesh([
        { above: 8, radius: 22 },
        { above: 20, radius: 22 },
      ]);
      const { worst } = recountText(apart, inMesh([lip], stack));
      expect(worst.map((t) => t.between)).toEqual(['head and what is laid']);
    });

    it('planted, a head that is too long: a fan on one side that hangs lower than the post is high', () => {
      const fan = (bottom: number): Recounted =>
        recountText(apart, inMesh([boxMesh([-30, -8, bottom], [-20, 8, bottom + 20])], stack));
      expect(fan(22).count).toBe(0);
      const { worst } = fan(10);
      expect(worst.map((t) => t.between)).toEqual(['head and what is laid']);
      // The middle of the fan runs over the whole post: 14 mm less 10.4 or 10.2 over the table.
      expect(worst[0]!.depth).toBeCloseTo(3.8, 1);
    });

    it('planted, a move through the duct: the flank of the head in it', () => {
      const past = (y: number): Recounted =>
        recountText(
          `${sound.replace(/M2\s*$/, '')}G94 G1 X20 Y${y} Z80 F3000\nG1 Z30 F1200\nG1 X30 F600\nM2\n`,
          inMesh([turnedMesh(stack!)]),
        );
      expect(past(120).count).toBe(0);
      expect(past(0).worst.map((t) => t.between)).toEqual(['cable duct and head']);
    });
  });

  it('planted, feeds four times as fast: told', () => {
    const text = program(json, [bar]).replace(/F([\d.]+)/g, (_, f) => `F${4 * Number(f)}`);
    const file = json as unknown as File;
    expect(countViolations(file, readMoves(text, file), 0.05).length).toBeGreaterThan(10);
  });
});

test.each(machineNames)('%s: a small post with an arm, nothing touches', async (machine) => {
  const job = { layers: { thickness: 0.3 } };
  const one = { name: 'post', build: () => postWithArm(10, 22, 8, 7), job };
  const result = await recount(one, machine, await loadShapes(), await loadSolidKernel());
  if (typeof result === 'string') throw new Error(result);
  expect(result.worst).toEqual([]);
  expect(result.violations).toEqual([]);
  expect(result.steps).toBeGreaterThan(result.blocks);
  expect(result.steps).toBeGreaterThan(20_000);
});

/**
 * Bodies of a machine on their ways, against a dense count: the same blocks are found in which, at two
 * hundred places of the block, two bodies overlap. Boxes that no axis turns are asked by their edges.
 */
import { describe, expect, it } from 'vitest';
import { seeded } from '../../lib/base/random.js';
import { DEG, type Vec3 } from '../../lib/base/vector.js';
import { type Meeting, Meetings } from '../../lib/verify/meeting.js';
import type { Trace } from '../../lib/verify/trace.js';
import { acJson, machineOf } from '../machine/machines.js';
import { type Block, traceOfBlocks } from './traces.js';

/** A post on the frame, and a slim head of 2 mm that is 40 mm long; a small table below. */
const json = acJson();
json.head.stack = [
  { above: 0, radius: 2 },
  { above: 40, radius: 2 },
];
json.table.face = { shape: 'disc', radius: 20 };
json.obstacles = [
  { name: 'post', carriedBy: 'frame', solid: { shape: 'box', from: [60, -4, 0], to: [68, 4, 30] } },
  { name: 'arm', carriedBy: 'X', solid: { shape: 'box', from: [-70, -3, 50], to: [-60, 3, 58] } },
];
const machine = machineOf(json);

/** Joint values of every block; the tip where the A-C chain puts it. */
function met(
  poses: readonly (readonly number[])[],
  turning = true,
  lays: readonly number[] = [],
  of = machine,
): Meeting[] {
  const tip = ([x, y, z, a, c]: readonly number[]): Vec3 => {
    const [y1, z1] = [
      y! * Math.cos(a!) + z! * Math.sin(a!),
      -y! * Math.sin(a!) + z! * Math.cos(a!),
    ];
    return [x! * Math.cos(c!) + y1 * Math.sin(c!), -x! * Math.sin(c!) + y1 * Math.cos(c!), z1];
  };
  const [first, ...rest] = poses;
  const blocks = rest.map((p, i): Block => ({
    to: tip(p),
    ...(lays.includes(i + 1) ? { volume: 1 } : {}),
  }));
  const trace: Trace = {
    ...traceOfBlocks(tip(first!), blocks),
    joints: Float64Array.from(poses.flat()),
    jointCount: 5,
  };
  const meetings = new Meetings(trace, of, [-32, -32, -2]);
  for (let b = 0; b < poses.length; b++) {
    meetings.before(b, turning);
    if (lays.includes(b)) meetings.after(b);
  }
  return meetings.found;
}

const distanceToPost = (x: number, y: number): number =>
  Math.hypot(Math.max(60 - x, 0, x - 68), Math.max(Math.abs(y) - 4, 0));

describe('the head and a post', () => {
  it.each([1, 2, 3])('meet in the blocks in which they overlap, seed %d', (seed) => {
    const random = seeded(seed);
    const poses = Array.from({ length: 120 }, () => [
      45 + 40 * random(),
      40 * (random() - 0.5),
      10 + 40 * random(),
      0,
      0,
    ]);
    const found = new Map(met(poses, false).map((m) => [m.block, m]));
    let [sure, near] = [0, 0];
    for (let b = 1; b < poses.length; b++) {
      let least = Infinity;
      for (let n = 0; n <= 200; n++) {
        const [x, y, z] = [0, 1, 2].map(
          (c) => poses[b - 1]![c]! + (n / 200) * (poses[b]![c]! - poses[b - 1]![c]!),
        ) as [number, number, number];
        // The head stands from z up, the post reaches up to 30 mm.
        const up = Math.max(0, z - 30);
        least = Math.min(least, Math.hypot(Math.max(0, distanceToPost(x, y) - 2), up));
      }
      const touch = found.get(b);
      // Looks lie half a millimetre apart, points of surfaces three.
      if (least > 0.05) expect(touch, `block ${b}`).toBeUndefined();
      if (least > 0.05) near++;
      if (touch) {
        sure++;
        expect(touch.words).toBe('the head touches "post"');
        expect(touch.at).toBeGreaterThanOrEqual(0);
        expect(touch.at).toBeLessThan(1);
        expect(touch.point).toBeUndefined();
        const [x, y, z] = [0, 1, 2].map(
          (c) => poses[b - 1]![c]! + touch.at * (poses[b]![c]! - poses[b - 1]![c]!),
        ) as [number, number, number];
        expect(distanceToPost(x, y)).toBeLessThanOrEqual(2 + 1e-6);
        expect(z).toBeLessThanOrEqual(30);
      }
    }
    expect(sure).toBeGreaterThan(10);
    expect(near).toBeGreaterThan(10);
  });

  it('are found at the first look within half a millimetre of where they meet', () => {
    const [touch, ...more] = met(
      [
        [20, 0, 10, 0, 0],
        [80, 0, 10, 0, 0],
      ],
      false,
    );
    expect(more).toEqual([]);
    // The head's flank reaches the post at x = 58 and its points do so 0.3 mm later at most.
    const x = 20 + 60 * touch!.at;
    expect(x).toBeGreaterThanOrEqual(58);
    expect(x).toBeLessThan(58.8);
  });

  it('are clear of each other beside and above it', () => {
    const clear = (y: number, z: number): Meeting[] =>
      met(
        [
          [20, y, z, 0, 0],
          [90, y, z, 0, 0],
        ],
        false,
      );
    expect(clear(6.2, 10)).toEqual([]);
    expect(clear(-6.2, 10)).toEqual([]);
    expect(clear(0, 30.2)).toEqual([]);
    expect(clear(5.8, 10)).toHaveLength(1);
    expect(clear(0, 29.8)).toHaveLength(1);
  });
});

describe('the head and the table', () => {
  // With the tip at (0, 10, 1) and A turning by +90 deg the table's half at +Y comes up.
  const turn = [
    [0, 10, 1, 0, 0],
    [0, 10, 1, 60 * DEG, 0],
  ];
  it('meet while the head turns against it, with a place on the table', () => {
    const [touch, ...more] = met(turn, true);
    expect(more).toEqual([]);
    expect(touch!.words).toBe('the head touches the table');
    // z' = z cos A - y sin A is 1 - 2 at the middle, 0 at the flank for tan A = 1 / 12.
    const angle = 60 * touch!.at;
    expect(angle).toBeGreaterThan(Math.atan(1 / 12) / DEG - 0.5);
    expect(angle).toBeLessThan(Math.atan(1 / 8) / DEG + 2);
    const [x, y, z] = touch!.point!;
    expect(Math.hypot(x, y)).toBeLessThanOrEqual(20 + 1e-9);
    expect(z).toBeLessThanOrEqual(1e-9);
    expect(z).toBeGreaterThan(-6.1);
  });
  it('are not asked while it keeps its direction', () => {
    expect(met(turn, false)).toEqual([]);
  });
  it('are clear where the table turns down', () => {
    expect(
      met([
        [0, 14, 1, 0, 0],
        [0, 14, 1, -60 * DEG, 0],
      ]),
    ).toEqual([]);
  });
});

describe('what is printed', () => {
  // A bar along Y at z = 30, 10 mm beside the axis; then the table turns it by C into the frame's post.
  const near = acJson();
  near.head.stack = json.head.stack!;
  near.table.face = { shape: 'disc', radius: 8 };
  near.obstacles = [
    {
      name: 'post',
      carriedBy: 'frame',
      solid: { shape: 'box', from: [14, -2, 10], to: [18, 2, 60] },
    },
  ];
  const at = machineOf(near);
  const poses = (far: number): number[][] => [
    [0, 0, 30, 0, 0],
    [0, far, 30, 0, 0],
    [0, far, 80, 0, 0],
    [0, -100, 80, 0, 0],
    [0, -100, 80, 0, -90 * DEG],
  ];
  it('meets a post on the frame when the table turns it there', () => {
    // C by -90 deg takes +Y to +X: the bar reaches the post from 14 mm on.
    const found = met(poses(16), true, [1], at);
    expect(found.map((m) => [m.block, m.words])).toEqual([[4, '"post" touches what is printed']]);
    expect(found[0]!.point![1]).toBeGreaterThan(12.5);
    expect(met(poses(11), true, [1], at)).toEqual([]);
  });
  it('and nothing that was not laid', () => {
    expect(met(poses(16), true, [], at)).toEqual([]);
  });
});

it('what lies together with all joints at zero belongs together', () => {
  const bearing = acJson();
  bearing.obstacles = [
    {
      name: 'bearing',
      carriedBy: 'frame',
      solid: { shape: 'cylinder', from: [0, 0, -20], to: [0, 0, -6.5], radius: 10 },
    },
  ];
  // Half a millimetre below the table's underside; the clearance is 1 mm.
  const turned = [
    [0, 0, 90, 0, 0],
    [0, 0, 90, 10 * DEG, 0],
  ];
  expect(met(turned, true, [], machineOf(bearing))).toEqual([]);
  bearing.obstacles[0]!.solid = {
    shape: 'cylinder',
    from: [0, 0, -20],
    to: [0, 0, -7.5],
    radius: 60,
  };
  const [touch] = met(turned, true, [], machineOf(bearing));
  expect(touch!.words).toBe('"bearing" touches the table');
  // 60 mm out the table sinks by 1.5 mm at asin(1.5 / 60) = 1.4 deg, and points lie 3 mm apart.
  expect(10 * touch!.at).toBeGreaterThan(1.4);
  expect(10 * touch!.at).toBeLessThan(3);
});

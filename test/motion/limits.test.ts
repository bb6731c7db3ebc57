/** What bounds the motion: travel, turns of a cable, flow, layer time, obstacles, what stands around. */
import { describe, expect, it } from 'vitest';
import { pathFrame } from '../../lib/layers/layer-map.js';
import { applyPoint } from '../../lib/base/frame.js';
import { Fault } from '../../lib/base/fault.js';
import { DEG, type Vec3, unit } from '../../lib/base/vector.js';
import type { Machine } from '../../lib/machine/machine.js';
import { reportBacklash } from '../../lib/motion/lay/report-backlash.js';
import { checkLimits } from '../../lib/motion/timing/check-limits.js';
import { MoveKind, type Motion } from '../../lib/motion/motion.js';
import { planMotion } from '../../lib/motion/plan-motion.js';
import { motionRules } from '../../lib/motion/rules.js';
import { Complaints } from '../../lib/motion/transfer/travel-limits.js';
import { orderRuns } from '../../lib/order/order.js';
import { type Json, acJson, headTableJson, machineOf, rotary } from '../machine/machines.js';
import { motionOf } from '../program/motions.js';
import { type BoxJob, arm, boxJob, material, post } from './jobs.js';

const tilted = (deg: number, azimuth: number): Vec3 => {
  const [t, a] = [deg * DEG, azimuth * DEG];
  return unit([Math.sin(t) * Math.cos(a), Math.sin(t) * Math.sin(a), Math.cos(t)]);
};

function plan(
  machine: Machine,
  parts: BoxJob[],
  rules: Record<string, unknown> = {},
  stuff: Record<string, unknown> = {},
) {
  const regions = parts.map((p) => p.region);
  const pathsOf = parts.map((p) => p.paths);
  return planMotion({
    machine,
    material: material(stuff),
    regions,
    layersOf: parts.map((p) => p.layers),
    pathsOf,
    sequence: orderRuns(machine, regions, pathsOf),
    rules: motionRules.parse(rules),
  });
}

const choices = (outOfTravel: 'refuse' | 'report') =>
  ({ outOfTravel, touch: 'refuse', tooNear: 'refuse' }) as const;

const joint = (m: Motion, b: number, j: number): number => m.joints[b * m.jointCount + j]!;

/** Blocks of a region that lay material. */
const laid = (m: Motion, region: number): number[] =>
  Array.from(m.kind.keys()).filter((b) => m.kind[b] === MoveKind.deposit && m.region[b] === region);

function faultOf(work: () => unknown): Fault {
  try {
    work();
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error('was accepted');
}

const withTable = (joints: Json['table']['joints'], change: Partial<Json> = {}): Json => {
  const json = acJson();
  return { ...json, table: { ...json.table, joints }, ...change };
};

const A = rotary('A', [1, 0, 0], [-120, 120]);
const C = rotary('C', [0, 0, 1], 'endless');

describe('travel', () => {
  it('at tilt 0 C keeps the angle of the region before', () => {
    const up = boxJob([-5, -5, 60], [5, 5, 64], [0, 0, 1], [1]);
    const { motion } = plan(machineOf(acJson()), [post(), arm(tilted(60, 20)), up]);
    const before = joint(motion, laid(motion, 1)[0]!, 4);
    expect(Math.abs(before)).toBeGreaterThan(0.1);
    expect(joint(motion, laid(motion, 2)[0]!, 4)).toBe(before);
    expect(joint(motion, laid(motion, 2)[0]!, 3)).toBeCloseTo(0, 12);
  });

  it('if the region does not fit so, C turns to where it does', () => {
    // A long bar along X on a machine with little Y travel: level, but turned away by the first arm.
    const json = acJson();
    const machine = machineOf({
      ...json,
      ready: { C: 90 },
      head: {
        ...json.head,
        joints: json.head.joints.map((j) =>
          j.letter === 'Y' ? { ...j, travel: [-30, 30] } : j,
        ) as never,
      },
    });
    const { motion, findings } = plan(machine, [boxJob([-60, -5, 0], [60, 5, 2], [0, 0, 1])]);
    expect(findings).toEqual([]);
    const c = joint(motion, laid(motion, 0)[0]!, 4) / DEG;
    expect(Math.abs(Math.sin(c * DEG))).toBeLessThan(0.5);
    expect(c).not.toBe(90);
  });

  it('a cable that allows one turn is unwound in a transfer', () => {
    const limited = { ...C, turns: 0.75 } as typeof C;
    // The tilt goes one way only, so C must follow the azimuth round: 5 arms at 100 deg steps.
    const machine = machineOf(withTable([rotary('A', [1, 0, 0], [-2, 120]), limited]));
    const parts = [post(), ...[0, 100, 200, 300, 400].map((a, i) => arm(tilted(60, a), [i]))];
    // The arms stand in one another's way, which is not what is asked here.
    const { motion, findings } = plan(machine, parts, { touch: 'report' });
    expect(findings.filter((f) => !/within 1 mm/.test(f.message))).toEqual([]);
    const turns: number[] = [];
    for (let r = 1; r <= 5; r++) turns.push(joint(motion, laid(motion, r)[0]!, 4) / DEG);
    for (const c of turns) expect(Math.abs(c)).toBeLessThanOrEqual(270.000001);
    // k = (sin A sin C, sin A cos C, cos A): azimuth = 90 deg - C, so C falls by 100 deg an arm.
    turns.forEach((c, i) => {
      const off = (((c + 100 * i - 90) % 360) + 540) % 360;
      expect(off).toBeCloseTo(180, 6);
    });
    expect(motion.kind.length).toBeGreaterThan(0);
    for (let b = 0; b < motion.kind.length; b++) {
      expect(Math.abs(joint(motion, b, 4))).toBeLessThanOrEqual(1.5 * Math.PI + 1e-9);
    }
  });

  it('a part beyond X is refused with joint, value, limit, region and layer', () => {
    const fault = faultOf(() =>
      plan(machineOf(withTable([A, rotary('C', [0, 0, 1], [-1, 1])])), [
        boxJob([480, -5, 0], [520, 5, 2], [0, 0, 1]),
      ]),
    );
    expect(fault.code).toMatch(/^motion\/(travel|transfer)$/);
    expect(fault.message).toMatch(
      /joint X would have to stand at 51\d(\.\d+)? mm, its limit is 500 mm/,
    );
    expect(fault.at?.region).toBe(0);
  });

  it('or reported, if the job says so', () => {
    const { findings, motion } = plan(
      machineOf(withTable([A, rotary('C', [0, 0, 1], [-1, 1])])),
      [boxJob([480, -5, 0], [520, 5, 2], [0, 0, 1])],
      { outOfTravel: 'report' },
    );
    const travel = findings.find((f) => f.code === 'motion/travel')!;
    expect(travel.severity).toBe('error');
    // Contour at 519, so 19 mm beyond.
    expect(travel.message).toMatch(/519 mm, its limit is 500 mm/);
    // The block is named, so that the program's line can be.
    expect(Math.abs(joint(motion, travel.at!.block!, 0))).toBeCloseTo(519, 9);
  });

  it('a transfer counts too, and so does speed: told once for each joint, at its worst', () => {
    const machine = machineOf(acJson());
    const moves = [
      { joints: [200, 0, 0, 0, 0], seconds: 1, kind: 'deposit' as const },
      { joints: [200, 0, 510, 0, 0], seconds: 3, kind: 'transfer' as const },
      { joints: [200, 0, 540, 0, 0], seconds: 3, kind: 'transfer' as const },
      { joints: [200, 0, 0, 0, 3], seconds: 3, kind: 'transfer' as const },
    ];
    const complaints = new Complaints(choices('report'));
    checkLimits(machine, motionOf(machine, [0, 0, 0, 0, 0], moves), complaints);
    // X Y Z may run at 200 mm/s and to 500 mm, C at 90 deg/s.
    expect(complaints.findings.map((f) => [f.code, f.at!.block])).toEqual([['motion/travel', 2]]);
    expect(complaints.findings[0]!.message).toMatch(
      /on the way to or from region 1 joint Z would have to stand at 540 mm, its limit is 500 mm \(2 blocks/,
    );
    const faster = moves.map((m, i) => ({ ...m, seconds: i === 3 ? 1.5 : m.seconds }));
    const second = new Complaints(choices('report'));
    checkLimits(machine, motionOf(machine, [0, 0, 0, 0, 0], faster), second);
    expect(second.findings.map((f) => f.message).slice(1)).toEqual([
      expect.stringMatching(/joint Z would have to run at 360 mm\/s, its limit is 200 mm\/s/),
      expect.stringMatching(/joint C would have to run at 114\.592 deg\/s, its limit is 90 deg\/s/),
    ]);
    expect(() =>
      checkLimits(
        machine,
        motionOf(machine, [0, 0, 0, 0, 0], moves),
        new Complaints(choices('refuse')),
      ),
    ).toThrow(Fault);
  });

  it('a direction beyond the tilt is unreachable', () => {
    const fault = faultOf(() =>
      plan(machineOf(withTable([rotary('A', [1, 0, 0], [-40, 40]), C])), [
        post(),
        arm(tilted(60, 0)),
      ]),
    );
    expect(fault.code).toBe('motion/travel');
    expect(fault.message).toMatch(/joint A.*60 deg, its limit is (-?)40 deg/);
  });

  it('a transfer for which Z is too short is refused', () => {
    const json = acJson();
    const machine = machineOf({
      ...json,
      head: {
        ...json.head,
        joints: json.head.joints.map((j) =>
          j.letter === 'Z' ? { ...j, travel: [-10, 60] } : j,
        ) as never,
      },
    });
    const fault = faultOf(() => plan(machine, [post(), arm(tilted(60, 0))]));
    expect(fault.code).toBe('motion/transfer');
    // The rim of the table alone rises to 100 sin 60 = 86.6 mm.
    expect(fault.message).toMatch(
      /joint Z would have to stand at (8[7-9]|9\d)(\.\d+)? mm, its limit is 60 mm/,
    );
  });
});

describe('backlash', () => {
  const told = (x: number, c: number): string[] => {
    const machine = machineOf(acJson());
    const joints = machine.joints.map((j, i) => ({
      ...j,
      backlash: i === 0 ? x : i === 4 ? c : 0,
    }));
    const own = { ...machine, joints };
    // X goes out and comes back while it lays; C is turned to +40 and back to 30 deg between regions.
    const motion = motionOf(
      own,
      [0, 0, 0, 0, 0],
      [
        { joints: [80, 0, 0, 0, 0], seconds: 1 },
        { joints: [80, 0, 0, 0, 40 * DEG], seconds: 1, kind: 'transfer' },
        { joints: [40, 0, 0, 0, 40 * DEG], seconds: 1, region: 1 },
        { joints: [40, 0, 0, 0, 30 * DEG], seconds: 1, kind: 'transfer' },
        { joints: [30, 0, 0, 0, 30 * DEG], seconds: 1, region: 2 },
      ],
    );
    const complaints = new Complaints(choices('refuse'));
    reportBacklash(own, motion, 0.05, complaints);
    return complaints.findings.map((f) => f.message);
  };

  it('that moves the tip by less than the deviation is not told', () => {
    expect(told(0.04, 0.03 * DEG)).toEqual([]);
  });

  it('more is: .1 deg at 80 mm is .13963 mm (r times angle), .06 mm of X', () => {
    const [x, c] = told(0.06, 0.1 * DEG);
    expect(x).toMatch(/joint X turns round 1 times .* 0\.06 mm moves the tip by up to 0\.060 mm/);
    expect(c).toMatch(/joint C turns round 1 times .* 80 mm from its axis, by up to 0\.140 mm/);
  });
});

describe('flow', () => {
  const solo = (): BoxJob[] => [boxJob([-10, -10, 0], [10, 10, 2], [0, 0, 1])];
  const flows = (m: Motion): number[] =>
    laid(m, 0).map((b) => (m.length[b]! * 0.0814159) / m.seconds[b]!);

  it('is held under what the nozzle melts: .0814159 mm2 bead', () => {
    const { motion } = plan(machineOf(acJson()), solo(), {}, { flow: { least: 0.01, most: 1.2 } });
    expect(Math.max(...flows(motion))).toBeLessThan(1.2 * (1 + 1e-5));
    expect(Math.max(...flows(motion))).toBeGreaterThan(1.19);
  });

  it('first layer on the table at the speed of the material, others at that of the job', () => {
    const { motion } = plan(
      machineOf(acJson()),
      solo(),
      { speed: { contour: 33 } },
      { first: { speed: 12 } },
    );
    const speed = (layer: number): number =>
      Math.max(
        ...laid(motion, 0)
          .filter((b) => motion.layer[b] === layer && motion.pathKind[b] === 0)
          .map((b) => motion.length[b]! / motion.seconds[b]!),
      );
    expect(speed(0)).toBeCloseTo(12, 9);
    expect(speed(1)).toBeCloseTo(33, 9);
  });

  it('an arm has no first layer on the table', () => {
    const { motion } = plan(
      machineOf(acJson()),
      [post(), arm(tilted(60, 0))],
      {},
      { first: { speed: 5 } },
    );
    const first = laid(motion, 1).filter((b) => motion.layer[b] === 0);
    expect(Math.max(...first.map((b) => motion.length[b]! / motion.seconds[b]!))).toBeGreaterThan(
      20,
    );
  });

  it('short layers are slowed down to the least layer time', () => {
    const fast = plan(machineOf(acJson()), solo());
    const slow = plan(machineOf(acJson()), solo(), {}, { leastLayerSeconds: 9 });
    expect(fast.motion.totalSeconds).toBeLessThan(50);
    // 10 layers of at least 9 s each.
    expect(slow.motion.totalSeconds).toBeGreaterThan(89.9);
    expect(slow.motion.totalSeconds).toBeLessThan(95);
    expect(slow.findings).toEqual([]);
  });

  it('but never below the least flow, and that is told', () => {
    const { motion, findings } = plan(
      machineOf(acJson()),
      solo(),
      {},
      { leastLayerSeconds: 60, flow: { least: 1, most: 12 } },
    );
    expect(Math.min(...flows(motion))).toBeGreaterThan(1 - 1e-5);
    const told = findings.find((f) => f.code === 'motion/layer-time')!;
    expect(told.message).toMatch(/10 layers.*60 s.*1 mm3\/s/);
  });

  it('no feed is lifted to the least flow: it stays the greatest speed that a block reaches', () => {
    // 600 mm/s is more than the corners leave time to reach.
    const feeds = (least: number): number[] => {
      const flow = { least, most: 1000 };
      const material = { leastLayerSeconds: 0, flow };
      return [
        ...plan(machineOf(acJson()), solo(), { speed: { contour: 600 } }, material).motion.seconds,
      ];
    };
    expect(feeds(40)).toEqual(feeds(0.01));
  });

  it('a speed that asks for too little flow is told', () => {
    const { findings } = plan(
      machineOf(acJson()),
      solo(),
      { speed: { contour: 2 } },
      { flow: { least: 1, most: 12 } },
    );
    // 2 mm/s x .0814159 mm2
    expect(findings.map((f) => f.code)).toContain('motion/low-flow');
    expect(findings[0]!.message).toMatch(/1 mm3\/s; the lowest is 0\.163 mm3\/s/);
  });
});

describe('lifted links', () => {
  /** Highest the head goes in links of the second region, and the least. */
  const heights = (gap: number): number[] => {
    // A wall 12 mm high stands between the two halves of a low part printed after it.
    const wall = boxJob([-1 - gap, -10, 0], [1 + gap, 10, 12], [0, 0, 1]);
    const left = boxJob([-19, -5, 0], [-13, 5, 1], [0, 0, 1]);
    const right = boxJob([13, -5, 0], [19, 5, 1], [0, 0, 1]);
    const both: BoxJob = { ...left, paths: joined(left, right) };
    const { motion } = plan(machineOf(acJson()), [
      wall,
      { ...both, region: { ...both.region, standsOn: [0] } },
    ]);
    return Array.from(motion.kind.keys())
      .filter((b) => motion.kind[b] === MoveKind.link && motion.region[b] === 1)
      .map((b) => joint(motion, b, 2));
  };

  it('rise over what earlier regions left standing', () => {
    const z = heights(0);
    // Wall 12 mm and clearance 1 mm; boxes may add up to a cell.
    expect(Math.max(...z)).toBeGreaterThanOrEqual(13);
    expect(Math.max(...z)).toBeLessThan(16);
  });

  it('and only by the stated lift where nothing stands', () => {
    const { motion } = plan(machineOf(acJson()), [boxJob([-10, -10, 0], [10, 10, 2], [0, 0, 1])], {
      lift: 0.75,
    });
    const z = Array.from(motion.kind.keys())
      .filter((b) => motion.kind[b] === MoveKind.link && motion.layer[b] === 4)
      .map((b) => joint(motion, b, 2));
    expect(Math.max(...z)).toBeCloseTo(1.75, 9);
  });
});

/** The paths of two jobs with the same layers, layer by layer. */
function joined(a: BoxJob, b: BoxJob): BoxJob['paths'] {
  const order: [BoxJob, number][] = [];
  for (let k = 0; k < a.layers.top.length; k++) {
    for (const job of [a, b]) {
      job.paths.layer.forEach((layer, i) => layer === k && order.push([job, i]));
    }
  }
  const points: number[] = [];
  const start = [0];
  for (const [job, i] of order) {
    const { points: p, start: s } = job.paths;
    points.push(...p.subarray(3 * s[i]!, 3 * s[i + 1]!));
    start.push(points.length / 3);
  }
  const n = points.length / 3;
  const pick = (f: (job: BoxJob, i: number) => number): number[] => order.map(([j, i]) => f(j, i));
  return {
    points: Float64Array.from(points),
    width: new Float64Array(n).fill(0.45),
    height: new Float64Array(n).fill(0.2),
    start: Uint32Array.from(start),
    kind: Uint8Array.from(pick((j, i) => j.paths.kind[i]!)),
    layer: Uint32Array.from(pick((j, i) => j.paths.layer[i]!)),
    flowFactor: new Float64Array(order.length).fill(1),
    link: new Uint8Array(order.length),
    linkPoints: new Float64Array(0),
    linkStart: new Uint32Array(order.length + 1),
  };
}

describe('the head over the table', () => {
  // Tilted 60 deg, a corner of the head (radius r at height s) comes down to z + s/2 - r sin 60:
  // r 9 at 8: z - 3.79; r 18 at 30: z - .59; r 22 at 60: z + 10.9. With 1 mm of clearance the tip
  // must stay 4.794 mm over the table.
  const block = (low: number, x: number): BoxJob => {
    const d = tilted(60, 0);
    const { layerFromPart } = pathFrame(boxJob([0, 0, 0], [1, 1, 1], d).layers.map);
    const foot = applyPoint(layerFromPart, [x, 0, low]);
    return boxJob([foot[0] - 3, foot[1] - 3, foot[2]], [foot[0] + 3, foot[1] + 3, foot[2] + 1], d);
  };
  // Paths keep 1 mm from the faces: the lowest tip is 2 sin 60 under the middle, .2 cos 60 above.
  const lowest = 2 * Math.sin(60 * DEG) - 0.1;
  it('keeps clear at just the height that it needs', () => {
    const { findings } = plan(machineOf(acJson()), [block(4.795 + lowest, 0)]);
    expect(findings).toEqual([]);
  });
  it('and is refused half a millimetre lower', () => {
    const low = [block(4.295 + lowest, 0)];
    expect(faultOf(() => plan(machineOf(acJson()), low, { tooNear: 'refuse' })).message).toMatch(
      /head comes within 1 mm of the table/,
    );
    const { findings } = plan(machineOf(acJson()), low);
    const told = findings.find((f) => f.code === 'motion/table')!;
    expect(told.message).toMatch(/layer 1, the head comes within 1 mm of the table: 0\.50 mm/);
  });
  it('unless it hangs over the rim', () => {
    const { findings } = plan(machineOf(acJson()), [block(4.295 + lowest, 99)]);
    expect(findings).toEqual([]);
  });
});

describe('obstacles of the machine', () => {
  const box = (from: Vec3, to: Vec3, carriedBy: string) =>
    ({ name: 'side rail', carriedBy, solid: { shape: 'box', from, to } }) as never;

  it('a rail beside the head that the head would meet', () => {
    const machine = machineOf({
      ...acJson(),
      obstacles: [box([20, -50, 10], [30, 50, 20], 'frame')],
    });
    const fault = faultOf(() => plan(machine, [post()]));
    expect(fault.code).toMatch(/motion\/(obstacle|transfer)/);
    expect(fault.message).toMatch(/head comes within 1 mm of "side rail"/);
  });

  it('the same rail far enough away', () => {
    const machine = machineOf({
      ...acJson(),
      obstacles: [box([90, -50, 10], [95, 50, 20], 'frame')],
    });
    expect(plan(machine, [post()]).findings).toEqual([]);
  });

  it('a frame post that the tilting table would strike', () => {
    const machine = machineOf({
      ...acJson(),
      obstacles: [box([-5, -60, -60], [5, -50, -40], 'frame')],
    });
    expect(plan(machine, [post()]).findings).toEqual([]);
    const fault = faultOf(() => plan(machine, [post(), arm(tilted(60, 0))]));
    expect(fault.message).toMatch(/table comes within 1 mm of "side rail"/);
  });

  it('a cradle that tilts with the table is no obstacle to it', () => {
    const machine = machineOf({ ...acJson(), obstacles: [box([-5, -60, -30], [5, 60, -7], 'A')] });
    expect(plan(machine, [post(), arm(tilted(60, 0))]).findings).toEqual([]);
  });

  it('a beam that rides with the head over a tall part', () => {
    const json = headTableJson();
    // 20 mm above the tip at zero and to the side, carried by Z: the post grows up beside it.
    const machine = machineOf({ ...json, obstacles: [box([-32, -40, 25], [-24, 40, 30], 'Z')] });
    const tall = boxJob([-20, -20, 0], [20, 20, 40], [0, 0, 1]);
    const low = boxJob([40, -5, 0], [50, 5, 2], [0, 0, 1], [0]);
    expect(plan(machine, [tall]).findings).toEqual([]);
    const fault = faultOf(() => plan(machine, [tall, low]));
    expect(fault.message).toMatch(/region 1 comes within 1 mm of "side rail"|head comes/);
  });
});

/**
 * Faults planted in the program of a sliced part, by its text alone: each must be told with its code at
 * its line. The part is a post with an arm to each side at different heights, in three regions, the
 * arms built at a tilt of about 45 deg. Edits keep the number of lines; faults that lie in different
 * places stand in one text, so that the check runs once for them.
 */
import { beforeAll, describe, expect, it } from 'vitest';
import type { Finding } from '../../lib/base/fault.js';
import { seeded } from '../../lib/base/random.js';
import { type Vec3, length } from '../../lib/base/vector.js';
import { forwardInto } from '../../lib/machine/forward.js';
import { readMachine } from '../../lib/machine/read-files.js';
import type { SliceInput } from '../../lib/job/lay-out.js';
import type { SliceResult } from '../../lib/job/pipeline.js';
import { type ProgramCheck, verify } from '../../lib/verify/verify.js';
import { jobOf, runJob, sampleJson } from '../support/jobs.js';
import { cuboid, loadShapes } from '../support/shapes.js';

interface MachineJson {
  table: { joints: { letter: string; point: Vec3; turns?: number }[] };
}

/** The sample A-C machine with a cable that allows one turn of C, and what else is changed. */
function machineWith(change: (json: MachineJson) => void = () => {}): SliceInput['machine'] {
  const json = sampleJson('machines/table-table-ac.json') as MachineJson;
  json.table.joints[1]!.turns = 1;
  change(json);
  return readMachine(json);
}

let input: SliceInput;
let sliced: SliceResult;
let lines: string[];

beforeAll(async () => {
  const limbs = await loadShapes();
  const part = limbs.unite(
    cuboid([8, 8, 19], [-4, -4, 0]),
    cuboid([12, 8, 6], [-12, -4, 13]),
    cuboid([11, 8, 5], [0, -4, 9]),
  );
  const job = jobOf(part, 'table-table-ac', {
    layers: { thickness: 0.3 },
    paths: { contours: 1 },
    page: false,
  });
  input = { ...job, machine: machineWith() };
  sliced = await runJob(input);
  lines = sliced.program.join('').split('\n');
});

const check = (text: readonly string[], machine = input.machine): ProgramCheck =>
  verify(text.join('\n'), machine, { part: sliced.plan.part, flow: input.material.flow }).check;

const told = (c: ProgramCheck, code: string): Finding[] =>
  c.findings.filter((f) => f.code === code);
const linesOf = (c: ProgramCheck, code: string): number[] => told(c, code).map((f) => f.at!.line!);

/** Index of the first line from `from` on that matches. */
function find(pattern: RegExp, from = 0): number {
  const found = lines.findIndex((l, i) => i >= from && pattern.test(l));
  if (found < 0) throw new Error(`no line ${pattern}`);
  return found;
}
const region = (n: number): number => find(new RegExp(`^\\(region ${n} of 3`));
const layer = (r: number, n: number): number => find(new RegExp(`^\\(region ${r}, layer ${n} of`));

/** The last line before index `at` that matches. */
const last = (pattern: RegExp, at: number): number =>
  lines.slice(0, at).findLastIndex((l) => pattern.test(l));
/** The last line that turns the table before a region begins: the tilt of its layers. */
const turnTo = (r: number): number => last(/^G93 /, region(r));

const editLine = (text: string[], at: number, edit: (line: string) => string): void => {
  text[at] = edit(lines[at]!);
};

describe('the sound program', () => {
  it('has three regions, two of them tilted, and none of what is planted below', () => {
    expect(sliced.plan.regions.map((r) => Math.round(r.direction[2] * 100))).toEqual([100, 71, 71]);
    const { counts } = sliced.report.check!;
    for (const code of [
      'verify/base-in-air',
      'verify/run-outside',
      'verify/shifted',
      'verify/touch',
      'verify/flow-step',
      'verify/cable-turns',
      'verify/outside',
      'verify/in-air-share',
    ]) {
      expect(counts[code], code).toBeUndefined();
    }
  });
});

describe('words that are wrong, in one text', () => {
  let found: ProgramCheck;
  let exponent: number;
  let noFeed: number;
  let turns: number;
  beforeAll(() => {
    const text = lines.slice();
    exponent = find(/^X\S+ E/, layer(1, 9));
    editLine(text, exponent, (l) => l.replace(/^X\S+/, 'X1e-7'));
    noFeed = turnTo(2);
    editLine(text, noFeed, (l) => l.replace(/ F\S+/, ''));
    // One turn more than the cable allows, at the same place of the table.
    turns = turnTo(3);
    editLine(text, turns, (l) =>
      l.replace(/C(\S+)/, (_, c: string) => `C${Number(c) + 360 * Math.sign(Number(c))}`),
    );
    text.splice(find(/^M2$/), 1);
    found = check(text);
  });
  it('X1e-7', () => {
    expect(linesOf(found, 'program/exponent')).toEqual([exponent + 1]);
  });
  it('F missing after G93', () => {
    expect(linesOf(found, 'program/feed-missing')).toContain(noFeed + 1);
  });
  it('a turn too many', () => {
    expect(linesOf(found, 'verify/cable-turns')[0]).toBe(turns + 1);
  });
  it('a missing end', () => {
    expect(told(found, 'program/no-end')).toHaveLength(1);
  });
});

describe('beads and ways that are wrong, in one text', () => {
  let found: ProgramCheck;
  const halved: number[] = [];
  let over: [number, number];
  let lowered: number;
  beforeAll(() => {
    const text = lines.slice();
    // A layer of the first tilted region is gone: its lines are empty.
    const [from, to] = [layer(2, 12), layer(2, 13)];
    over = [to, layer(2, 14)];
    for (let i = from; i < to; i++) text[i] = '';
    // Half the filament in five long blocks of the second tilted region, seed 11.
    const random = seeded(11);
    const { trace } = sliced;
    const long = [...trace!.line.keys()].filter(
      (b) => trace!.run[b] === 2 && trace!.flow[b]! > 0 && trace!.length[b]! > 3,
    );
    while (halved.length < 5) {
      const at = trace!.line[long[Math.floor(random() * long.length)]!]! - 1;
      if (halved.includes(at)) continue;
      halved.push(at);
      editLine(text, at, (l) =>
        l.replace(/E(\S+)/, (_, e: string) => `E${(Number(e) / 2).toFixed(5)}`),
      );
    }
    // The head is to rise before the second turn; it ends 20 mm lower.
    lowered = last(/Z\d/, turnTo(3));
    editLine(text, lowered, (l) => l.replace(/Z(\S+)/, (_, z: string) => `Z${Number(z) - 20}`));
    found = check(text);
  });
  it('a dropped layer: the one over it hangs, and nothing else does that did not before', () => {
    const before = linesOf(sliced.report.check!, 'verify/in-air');
    const fresh = linesOf(found, 'verify/in-air').filter((l) => !before.includes(l));
    expect(fresh.length).toBeGreaterThan(0);
    // The first thing it lays is a contour of four sides, which hangs from one of them on.
    const sides = [...lines.keys()].filter((i) => i > over[0] && /^[XY]\S.* E\d/.test(lines[i]!));
    expect(Math.min(...fresh)).toBeLessThanOrEqual(sides[3]! + 1);
    for (const line of fresh) {
      expect(line).toBeGreaterThan(over[0]);
      expect(line).toBeLessThanOrEqual(over[1] + 1);
    }
  });
  it('half the flow in five blocks, seed 11: each by its line and no other', () => {
    const expected = halved.map((i) => i + 1).sort((a, b) => a - b);
    expect(found.counts['verify/flow-step']).toBe(5);
    const told = found.findings.filter((f) => f.code === 'verify/flow-step');
    const lines = told.map((f) =>
      /\(lines ([^)]*)\)/.exec(f.message)?.[1]?.split(', ').map(Number),
    );
    expect(lines).toEqual([expected]);
    expect(expected).toContain(told[0]!.at!.line);
  });
  it('a transfer that goes too low', () => {
    expect(linesOf(found, 'verify/touch')[0]).toBe(lowered + 1);
  });
});

describe('a region in the wrong place', () => {
  it('the wrong sign of tilt: told at the line that tilts', () => {
    const [from, to] = [turnTo(2), turnTo(3)];
    const text = lines.map((l, i) => (i >= from && i < to ? l.replace(/ A(\d)/, ' A-$1') : l));
    expect(linesOf(check(text), 'verify/run-outside')).toEqual([from + 1]);
  });

  it('the order of the first two regions swapped: the tilted one hangs, from its turn on', () => {
    const [one, two, three] = [region(1), turnTo(2), turnTo(3)];
    const text = [
      ...lines.slice(0, one),
      ...lines.slice(two, three),
      ...lines.slice(one, two),
      ...lines.slice(three),
    ];
    expect(linesOf(check(text), 'verify/base-in-air')).toEqual([one + 1]);
  });

  /** By how much a wrong machine shifts run r, and what the check says of it. */
  function misplaced(delta: Vec3): { shift: Vec3[]; line: number[]; found: ProgramCheck } {
    const off = machineWith((json) => {
      const [tilting] = json.table.joints;
      tilting!.point = tilting!.point.map((v, c) => v + delta[c]!) as unknown as Vec3;
    });
    const { trace } = sliced;
    const pose = new Float64Array(6);
    const runs = [1, 2].map((run) => trace!.runStart[run]!);
    const shift = runs.map((b): Vec3 => {
      forwardInto(off, trace!.joints, b * trace!.jointCount, pose);
      return [0, 1, 2].map((c) => pose[c]! - trace!.tip[3 * b + c]!) as unknown as Vec3;
    });
    return { shift, line: runs.map((b) => trace!.line[b]!), found: check(lines, off) };
  }

  it('the tilting axis 0.3 mm off: by how much and whither, at the first bead of each run', () => {
    const { shift, line, found } = misplaced([0, 0.3, 0]);
    // Tip error of an axis that is off by delta: 2 delta sin(a/2).
    shift.forEach((s, i) => {
      const a = Math.acos(sliced.plan.regions[i + 1]!.direction[2]);
      expect(length(s)).toBeCloseTo(2 * 0.3 * Math.sin(a / 2), 4);
    });
    expect(linesOf(found, 'verify/shifted')).toEqual(line);
    // To three quarters of the least shift that is told.
    shift.forEach((s, i) => {
      const seen = found.shape!.runs[i + 1]!.shiftMm;
      expect(length([seen[0] - s[0], seen[1] - s[1], seen[2] - s[2]])).toBeLessThan(0.075);
    });
  });

  it('a shift of less than 0.1 mm is not told: at this tilt an axis less than 0.13 mm off', () => {
    const least = 0.1 / (2 * Math.sin((45 * Math.PI) / 360));
    expect(least).toBeCloseTo(0.131, 3);
    expect(told(misplaced([0, 0, 0.6 * least]).found, 'verify/shifted')).toEqual([]);
  });
});

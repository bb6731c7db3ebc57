/** The error budget against closed forms, source by source: programs of a few beads on the A-C machine. */
import { describe, expect, it } from 'vitest';
import { DEG } from '../../lib/base/vector.js';
import { type ErrorBudget, type SourceName, budgetOf } from '../../lib/budget/budget.js';
import { fitTouches } from '../../lib/calibrate/deviation-fit.js';
import { type FileText, measuredBy, measuredFile } from '../../lib/calibrate/measured.js';
import { stateAt } from '../../lib/calibrate/deviation-model.js';
import { planTouches } from '../../lib/calibrate/touch-plan.js';
import { tipSpread, tipSpreadOver } from '../../lib/calibrate/spread.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { readOptions, readProgram } from '../../lib/program/read-program.js';
import { errorWords } from '../../lib/report/error-words.js';
import { errorFigures, errorsCsv, errorsPicture } from '../../lib/report/error-picture.js';
import { type Trace, traceOf } from '../../lib/verify/trace.js';
import {
  BALL,
  FACE,
  errorsOf,
  normals,
  sampleJson,
  sampleMachine,
  touched,
} from '../calibrate/machines.js';

const RULES = { cornerDeviation: 0.05, chordError: 0.01, density: 1.24 };

/** X, Y, Z in mm and A, C in deg of a block, and whether it lays a bead. */
type Place = readonly [x: number, y: number, z: number, a: number, c: number, lays?: boolean];

function traced(machine: Machine, places: readonly Place[]): Trace {
  const lines = places.map(([x, y, z, a, c, lays = true], i) => {
    const turns = i === 0 || places[i - 1]!.slice(3, 5).join() !== `${a},${c}`;
    const mode = turns ? 'G93' : 'G94';
    return `${mode} G1 X${x} Y${y} Z${z} A${a} C${c}${lays ? ' E1' : ''} F${turns ? 6 : 600}`;
  });
  return traceOf(
    readProgram(['G21 G90', ...lines, 'M2'].join('\n'), readOptions(machine)),
    machine,
  );
}

/** The sample machine with nothing stated but what is given; axis of A 6 mm over the face. */
function bare(change: (joint: Machine['joints'][number]) => object = () => ({})): Machine {
  const machine = sampleMachine('table-table-ac');
  const { drives, ...rest } = machine;
  const joints = machine.joints.map((j) => ({ ...j, backlash: 0, ...change(j) }));
  return { ...rest, joints };
}

const of = (budget: ErrorBudget, name: SourceName): Float64Array =>
  budget.sources.find((s) => s.name === name)!.mm!;
const lastOf = (values: Float64Array): number => values.at(-1)!;

/** A tip that lays along X at y, z over the level table, after A came from `from`. */
const along = (y: number, z: number, from: number): Place[] => [
  [0, y, z + 50, from, 0, false],
  [0, y, z + 50, 0, 0, false],
  [0, y, z, 0, 0, false],
  [10, y, z, 0, 0],
];

describe('backlash', () => {
  const loose = bare((j) => (j.letter === 'A' ? { backlash: 0.1 * DEG } : {}));

  it('arrived from above, 0.1 deg of A at a lever of 100 mm make 0.17453293 mm (r times angle)', () => {
    // The axis runs at y 0, z 6: the lever of (100, 6) is 100 mm.
    const budget = budgetOf(traced(loose, along(100, 6, 5)), loose, RULES)!;
    expect(lastOf(of(budget, 'backlash'))).toBeCloseTo(0.17453293, 6);
    expect(budget.dominant).toBe('backlash');
  });

  it('from below nothing is left but twice the uncertainty of the play', () => {
    const budget = budgetOf(traced(loose, along(100, 6, -5)), loose, RULES)!;
    expect(lastOf(of(budget, 'backlash'))).toBe(0);
    const sure = bare((j) =>
      j.letter === 'A' ? { backlash: 0.1 * DEG, backlashUncertainty: 0.01 * DEG } : {},
    );
    const known = budgetOf(traced(sure, along(100, 6, -5)), sure, RULES)!;
    expect(lastOf(of(known, 'backlash'))).toBeCloseTo(2 * 0.017453293, 6);
  });

  it('0.03 mm in X and 0.04 mm in Y that nobody makes up for are 0.05 mm (3, 4, 5)', () => {
    const play = bare((j) => ({ backlash: j.letter === 'X' ? 0.03 : j.letter === 'Y' ? 0.04 : 0 }));
    const budget = budgetOf(traced(play, along(0, 6, -5)), play, RULES)!;
    expect(lastOf(of(budget, 'backlash'))).toBeCloseTo(0.05, 9);
    expect(errorWords(figuresOf(budget, play)).join(' ')).toMatch(
      /not stated, left out of it: .*dialect\.play\): counted as nobody/,
    );
    const made: Machine = { ...play, dialect: { ...play.dialect, play: 'program' } };
    expect(lastOf(of(budgetOf(traced(made, along(0, 6, -5)), made, RULES)!, 'backlash'))).toBe(0);
  });
});

const figuresOf = (budget: ErrorBudget, machine: Machine): ReturnType<typeof errorFigures> =>
  errorFigures(budget, traced(machine, along(0, 6, -5)), { heightMm: 0.2, widthMm: 0.45 });

describe('resolution', () => {
  it('without drives the decimals alone: 1e-4 mm and 1e-4 deg, each over sqrt 12 (even distribution)', () => {
    const machine = bare();
    const budget = budgetOf(traced(machine, along(100, 6, -5)), machine, RULES)!;
    const turn = 1e-4 * DEG * 100;
    // X, Y, Z; A at 100 mm; C at a lever of hypot(10, 100).
    const squares = 3e-8 + turn ** 2 + (1e-4 * DEG) ** 2 * (10 ** 2 + 100 ** 2);
    expect(lastOf(of(budget, 'resolution'))).toBeCloseTo(Math.sqrt(squares / 12), 9);
    expect(budget.sources.find((s) => s.name === 'resolution')!.notStated).toEqual([
      'steps of the drives (drives)',
    ]);
  });

  it('200 steps x 16 at a ratio of 20 are 0.00981748 mm at 100 mm (checked apart): over sqrt 12', () => {
    const drawn = sampleMachine('table-table-ac');
    const { motors, drives } = drawn.drives!;
    const motor = { ...motors[0]!, stepAngle: 1.8 * DEG };
    // Fine steps everywhere but at C.
    const own = drives.map((d) =>
      d.turns[4] === 0
        ? { ...d, motor, microsteps: 1e6 }
        : { ...d, motor, microsteps: 16, turns: d.turns.map((t) => (t === 0 ? 0 : 20)) },
    );
    const machine = { ...bare(), drives: { ...drawn.drives!, drives: own } };
    const budget = budgetOf(
      traced(machine, along(Math.sqrt(100 ** 2 - 10 ** 2), 6, -5)),
      machine,
      RULES,
    )!;
    expect(lastOf(of(budget, 'resolution'))).toBeCloseTo(0.00981748 / Math.sqrt(12), 4);
  });
});

describe('compliance', () => {
  /** 3 kg 40 mm off the tilting axis: 1.176798 N m when level (m g y, checks from outside). */
  const laden = (
    stiffness: number | undefined,
    stiffnessUncertainty?: number,
    belts = false,
  ): Machine => {
    const machine = bare((j) => (j.letter === 'A' ? { stiffness, stiffnessUncertainty } : {}));
    const box = { shape: 'box', from: [-20, 30, -4], to: [20, 50, 16] } as const;
    const drives = sampleMachine('table-table-ac').drives!;
    const a = machine.joints.findIndex((j) => j.letter === 'A');
    const bodies = [{ name: 'counterweight', carriedBy: a, mass: 3, solid: box }] as const;
    const driven = drives.drives.map((d) => ({ ...d, belt: belts ? d.belt : undefined }));
    return { ...machine, drives: { ...drives, bodies, drives: driven } };
  };
  const light = { ...RULES, density: 1e-9 };
  /** Lever 50 mm from the axis (y 0, z 6) to the tip; the part weighs next to nothing. */
  const tilted: Place[] = [
    [0, 0, 100, 60, 0, false],
    [0, 0, 56, 60, 0, false],
    [10, 0, 56, 60, 0],
  ];

  it('tilted by 60 deg the torque of 1.176798 N m halves: of 0.588399 N m over 1e5 N m/rad at 50 mm a tenth', () => {
    const machine = laden(1e5, 1e4);
    const budget = budgetOf(traced(machine, tilted), machine, light)!;
    expect(lastOf(of(budget, 'compliance')) / ((0.588399 / 1e5) * 50 * 0.1)).toBeCloseTo(1, 4);
  });

  it('the give itself is no error: with a stiffness that is known exactly nothing is left', () => {
    const machine = laden(100, 0);
    const budget = budgetOf(traced(machine, tilted), machine, light)!;
    expect(lastOf(of(budget, 'compliance'))).toBe(0);
  });

  it('by its belt where no stiffness is stated, whose uncertainty nobody states', () => {
    const machine = laden(undefined, undefined, true);
    const budget = budgetOf(traced(machine, tilted), machine, light)!;
    expect(lastOf(of(budget, 'compliance'))).toBe(0);
    const source = budget.sources.find((s) => s.name === 'compliance')!;
    expect(source.notStated).toEqual(['uncertainty of the stiffness of A C']);
  });

  it('level, as it was set up, nothing gives', () => {
    const machine = laden(100, 50);
    const budget = budgetOf(traced(machine, along(0, 56, -5)), machine, light)!;
    expect(lastOf(of(budget, 'compliance'))).toBeCloseTo(0, 9);
  });

  it('a part that grows 50 mm off the axis pulls by its own weight', () => {
    const machine = laden(1e5, 1e5);
    // 10 mm of bead hold 1 mm of filament of 1.75 mm: 2.4052819 mm3, here of 1e5 g/cm3, at x 5, y 50.
    const budget = budgetOf(traced(machine, along(50, 6, -5)), machine, {
      ...RULES,
      density: 1e5,
    })!;
    const torque = 2.4052819 * 1e5 * 1e-6 * 9.80665 * 0.05;
    expect(lastOf(of(budget, 'compliance')) / ((torque / 1e5) * 50)).toBeCloseTo(1, 4);
  });

  it('without a stiffness, or without weights, it is left out and said', () => {
    const saidOf = (machine: Machine): readonly string[] => {
      const budget = budgetOf(traced(machine, along(0, 56, -5)), machine, RULES)!;
      const source = budget.sources.find((s) => s.name === 'compliance')!;
      expect(source.mm).toBeUndefined();
      return source.notStated;
    };
    expect(saidOf(laden(undefined))[0]).toBe('stiffness of A C: planned and checked as rigid');
    expect(saidOf(bare(() => ({ stiffness: 100 })))).toEqual([
      'weights of the machine (drives.bodies): planned and checked as if nothing gave',
    ]);
  });
});

describe('corners', () => {
  const machine = bare();
  const bend = (turn: number, side: number): Place[] => [
    [0, 0, 6, 0, 0, false],
    [side, 0, 6, 0, 0],
    [side + side * Math.cos(turn), Number((side * Math.sin(turn)).toFixed(9)), 6, 0, 0],
  ];
  const first = (places: Place[]): number =>
    of(budgetOf(traced(machine, places), machine, RULES)!, 'corners')[0]!;

  it('a right angle between long sides is rounded by all of the deviation', () => {
    expect(first(bend(90 * DEG, 10))).toBe(0.05);
  });

  it('between sides of 0.1 mm by at most 0.05 cos 45 deg = 0.0353553 mm', () => {
    expect(first(bend(90 * DEG, 0.1))).toBeCloseTo(0.0353553, 4);
  });

  it('a bend of 2 deg in chords of 1 mm by at most 0.5 sin 1 deg = 0.0087262 mm', () => {
    expect(first(bend(2 * DEG, 1))).toBeCloseTo(0.0087262, 4);
  });
});

describe('calibration', () => {
  const file = sampleJson('table-table-ac') as FileText;
  const drawn = readMachine(file);
  const plan = planTouches(drawn, [FACE, BALL], { touches: 80, noise: 0.02 });
  const normal = normals(41);
  const truth = stateAt(plan.model, errorsOf(plan.model, 40));
  const fit = fitTouches(
    plan.model,
    touched(plan, truth, () => 0.02 * normal()),
    { noise: 0.02 },
  );
  const tip = tipSpreadOver(fit.model, fit.deviations, fit.spread, fit.covariance);
  const text = measuredFile(file, fit.state, measuredBy(fit, tip));
  const measured = readMachine(JSON.parse(JSON.stringify(text)));

  it('the covariance in the file gives the uncertainty that the fit itself gives, to 1 %', () => {
    // Turned by 90 deg, where the run-out shows.
    const turned = along(30, 20, -5).map(([x, y, z, a, , lays = true]): Place => [
      x,
      y,
      z,
      a,
      90,
      lays,
    ]);
    const trace = traced(measured, turned);
    const budget = budgetOf(trace, measured, RULES)!;
    const joints = trace.joints.subarray(trace.joints.length - trace.jointCount);
    const own = tipSpread(fit.model, fit.deviations, fit.spread, fit.covariance, joints);
    expect(own).toBeGreaterThan(0.002);
    expect(lastOf(of(budget, 'calibration')) / own).toBeCloseTo(1, 1.7);
    const runOut = lastOf(of(budget, 'run-out'));
    expect(runOut).toBeGreaterThan(0);
  });

  it('a machine as drawn is said to be off by nobody knows how much', () => {
    const budget = budgetOf(traced(drawn, along(30, 20, -5)), drawn, RULES)!;
    const source = budget.sources.find((s) => s.name === 'calibration')!;
    expect(source.mm).toBeUndefined();
    expect(source.notStated[0]).toMatch(/no calibration/);
  });

  it('a covariance of the wrong shape is refused', () => {
    const bad = {
      ...text,
      measured: { ...text.measured!, covariance: { of: ['a', 'b'], rows: [[1]] } },
    };
    expect(() => readMachine(bad)).toThrow(/there must be a row for each name/);
  });

  it('expected is the sum of systematic and twice the root of the sum of squares of random, the part within counted once', () => {
    const budget = budgetOf(traced(measured, along(30, 20, -5)), measured, RULES)!;
    const i = budget.expected.length - 1;
    const [b, c, k] = (['backlash', 'corners', 'compliance'] as const).map(
      (n) => budget.sources.find((s) => s.name === n)!.mm?.[i] ?? 0,
    ) as [number, number, number];
    const random = Math.hypot(of(budget, 'resolution')[i]!, of(budget, 'calibration')[i]!);
    expect(budget.expected[i]).toBeCloseTo(b + c + k + 2 * random, 12);
  });

  it('CSV has a row a spot, the picture a bar a source', () => {
    const trace = traced(measured, [...along(30, 20, -5), [-100, 30, 20, 0, 0]]);
    const budget = budgetOf(trace, measured, RULES)!;
    const figures = errorFigures(budget, trace, { heightMm: 0.2, widthMm: 0.45 });
    expect(figures.worst.ofLayerThickness).toBeCloseTo(figures.expected.mostMm / 0.2, 12);
    const rows = errorsCsv(budget).trimEnd().split('\n');
    expect(rows).toHaveLength(1 + budget.blocks.length);
    expect(rows[0]).toMatch(/^x mm,y mm,z mm,backlash mm,.*calibration standard mm,.*expected mm$/);
    const svg = errorsPicture(budget, trace, figures);
    for (const { name } of budget.sources) expect(svg).toContain(`>${name}</text>`);
    expect(svg).toContain('not stated, left out');
  });
});

it('a program that lays nothing has no budget', () => {
  const machine = bare();
  expect(budgetOf(traced(machine, [[0, 0, 10, 0, 0, false]]), machine, RULES)).toBeUndefined();
});

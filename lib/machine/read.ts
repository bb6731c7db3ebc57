/**
 * Machine and material files become records: parsed JSON comes in, what the schema cannot say is
 * checked (joints that span space, axes that cross, letters that clash), degrees become radians, and
 * a rising joint value always moves what the joint carries along its axis, whichever of the two
 * conventions the file is written in.
 */
import { Fault } from '../base/fault.js';
import { parse } from '../base/schema.js';
import { type Frame, buildFromPart, inverse } from '../base/frame.js';
import { DEG, type Vec3, angle, cross, dot, length, scale, unit } from '../base/vector.js';
import { jointsOf } from './chain.js';
import { readDrives } from './drives-read.js';
import { type Joint, type Machine, type MachineFile, machineFile } from './machine.js';
import { type Material, materialFile } from './material.js';
import { readHead, readTable } from './read-bodies.js';
import { readSolid } from './solid-check.js';
import { type Refuse, checkTexts } from './texts.js';

/**
 * @param json parsed content of the machine file
 * @param file name that Faults give as their place
 * @throws Fault `machine/...` naming key, value, limit and unit
 */
export function readMachine(json: unknown, file?: string): Machine {
  const f = parse(machineFile, json, 'machine', file);
  const refuse: Refuse = (what, message, key) => {
    throw new Fault(`machine/${what}`, message, { ...(key && { key }), ...(file && { file }) });
  };
  const joints = [
    ...f.head.joints.map((j, i) => jointFrom(j, false, f.positive, `head.joints.${i}`, refuse)),
    ...f.table.joints.map((j, i) => jointFrom(j, true, f.positive, `table.joints.${i}`, refuse)),
  ];
  checkLetters(f, joints, refuse);
  checkCount(joints, refuse);
  checkAxes(joints, refuse);
  checkTexts(f.dialect, refuse);
  return {
    name: f.name,
    joints,
    ready: readyOf(f.ready, joints, refuse),
    tip: f.head.tip,
    origin: f.table.origin,
    mount: mountOf(f.table.normal, refuse),
    ...readHead(f, refuse),
    face: f.table.face,
    ...readTable(f.table, refuse),
    obstacles: f.obstacles.map((o, i) => ({
      name: o.name,
      carriedBy: carrierOf(o, i, joints, refuse),
      solid: readSolid(o.solid, `obstacle "${o.name}"`, `obstacles.${i}`, refuse),
    })),
    clearance: f.clearance,
    nozzle: f.nozzle,
    filamentDiameter: f.filament.diameter,
    measured: f.measured,
    dialect: f.dialect,
    ...(f.drives ? { drives: readDrives(f.drives, joints, refuse) } : {}),
  };
}

/** The least turn that takes +Z to the table normal. */
function mountOf(normal: Vec3, refuse: Refuse): Frame {
  const n = unit(normal);
  if (!(n[2] > LEAST_UPRIGHT)) {
    refuse(
      'normal',
      `the table face looks along ${normal.join(' ')} with all joints at zero, ${(angle(normal, [0, 0, 1]) / DEG).toFixed(1)} deg from +Z, the limit is 60 deg`,
      'table.normal',
    );
  }
  return inverse(buildFromPart(n));
}

/** Cosine of 60 deg. */
const LEAST_UPRIGHT = 0.5;

function readyOf(
  ready: MachineFile['ready'],
  joints: readonly Joint[],
  refuse: Refuse,
): Float64Array {
  for (const letter of Object.keys(ready)) {
    if (joints.some((j) => j.letter === letter)) continue;
    const known = joints.map((j) => j.letter).join(' ');
    refuse(
      'unknown-joint',
      `the machine has no joint ${letter} (it has ${known})`,
      `ready.${letter}`,
    );
  }
  return Float64Array.from(joints, (j) => {
    const size = j.kind === 'rotary' ? DEG : 1;
    const value = ready[j.letter];
    if (value === undefined) return Math.min(Math.max(0, j.least), j.most);
    if (value * size < j.least || value * size > j.most) {
      const unitName = j.kind === 'rotary' ? 'deg' : 'mm';
      refuse(
        'ready',
        `joint ${j.letter} stands at ${value} ${unitName} after the start lines, its travel is ${round(j.least / size)} to ${round(j.most / size)} ${unitName}`,
        `ready.${j.letter}`,
      );
    }
    return value * size;
  });
}

const round = (x: number): number => Number(x.toFixed(6));

/** @throws Fault `material/...` */
export function readMaterial(json: unknown, file?: string): Material {
  return parse(materialFile, json, 'material', file);
}

type FileJoint = MachineFile['head']['joints'][number];

function jointFrom(
  j: FileJoint,
  carriesTable: boolean,
  positive: MachineFile['positive'],
  key: string,
  refuse: Refuse,
): Joint {
  if (length(j.axis) < 1e-9) {
    refuse('zero-axis', `joint ${j.letter} has the axis ${j.axis.join(' ')}, of no length`, key);
  }
  // ISO 841 names the motion of the tool against a still workpiece: a table then runs backwards.
  const sense = positive === 'tool' && carriesTable ? -1 : 1;
  const axis = scale(unit(j.axis), sense);
  const unitSize = j.kind === 'rotary' ? DEG : 1;
  const [least, most] = travelOf(j, key, refuse);
  return {
    kind: j.kind,
    letter: j.letter,
    carriesTable,
    axis,
    point: j.kind === 'rotary' ? j.point : [0, 0, 0],
    least: least * unitSize,
    most: most * unitSize,
    endless: j.kind === 'rotary' && j.travel === 'endless',
    speed: j.speed * unitSize,
    acceleration: j.acceleration * unitSize,
    jerk: (j.jerk ?? Infinity) * unitSize,
    backlash: j.backlash * unitSize,
    backlashUncertainty: scaled(j.backlashUncertainty, unitSize),
    stiffness: scaled(j.kind === 'rotary' ? j.stiffness : undefined, 1 / DEG),
    stiffnessUncertainty: scaled(j.kind === 'rotary' ? j.stiffnessUncertainty : undefined, 1 / DEG),
    runOut: j.kind === 'rotary' ? [sense * j.runOut[0], sense * j.runOut[1]] : [0, 0],
  };
}

const scaled = (value: number | undefined, by: number): number | undefined =>
  value === undefined ? undefined : value * by;

function travelOf(j: FileJoint, key: string, refuse: Refuse): readonly [number, number] {
  if (j.kind === 'linear') return j.travel;
  if (j.travel === 'endless') {
    const turns = (j.turns ?? Infinity) * 360;
    return [-turns, turns];
  }
  if (j.turns !== undefined) {
    refuse(
      'turns',
      `joint ${j.letter} has a travel of ${j.travel.join(' to ')} deg and turns ${j.turns}; a turn limit is for "endless" joints only`,
      `${key}.turns`,
    );
  }
  return j.travel;
}

function checkLetters(f: MachineFile, joints: readonly Joint[], refuse: Refuse): void {
  const seen = new Set<string>();
  for (const { letter } of joints) {
    if (seen.has(letter)) refuse('letter-clash', `two joints have the letter ${letter}`);
    seen.add(letter);
  }
  const metering = f.dialect.filament.letter;
  if (seen.has(metering)) {
    refuse(
      'letter-clash',
      `the filament is metered by ${metering}, which is the letter of a joint`,
      'dialect.filament.letter',
    );
  }
}

/** Exactly three linear and two rotary joints, or the missing letters by name. */
function checkCount(joints: readonly Joint[], refuse: Refuse): void {
  const kinds = [
    { kind: 'linear', need: 3, usual: ['X', 'Y', 'Z'] },
    { kind: 'rotary', need: 2, usual: ['A', 'B', 'C'] },
  ] as const;
  for (const { kind, need, usual } of kinds) {
    const have = joints.filter((j) => j.kind === kind).map((j) => j.letter);
    const listed = have.length ? `${have.length} (${have.join(' ')})` : '0';
    if (have.length > need) {
      refuse('joint-count', `the machine has ${listed} ${kind} joints, the limit is ${need}`);
    }
    if (have.length < need) {
      const free = usual.filter((l) => !joints.some((j) => j.letter === l));
      const missing =
        free.length > need - have.length ? `one of ${free.join(' ')}` : free.join(' ');
      refuse(
        'joint-missing',
        `the machine has ${listed} ${kind} joints, it needs ${need}; missing: ${missing || 'one more'}`,
      );
    }
  }
}

/** Axes that lie within this sine of one another count as parallel: a tenth of a degree or so. */
const PARALLEL = 2e-3;

function checkAxes(joints: readonly Joint[], refuse: Refuse): void {
  const of = (kind: Joint['kind']): Joint[] => joints.filter((j) => j.kind === kind);
  const [x, y, z] = of('linear') as [Joint, Joint, Joint];
  const volume = Math.abs(dot(x.axis, cross(y.axis, z.axis)));
  if (volume < PARALLEL) {
    refuse(
      'linear-span',
      `the linear joints ${x.letter} ${y.letter} ${z.letter} do not span space: their axes enclose a volume of ${volume.toPrecision(2)}, the least is ${PARALLEL}`,
    );
  }
  const [p, q] = of('rotary') as [Joint, Joint];
  const sine = length(cross(p.axis, q.axis));
  if (sine < PARALLEL) {
    refuse(
      'parallel-axes',
      `the rotary joints ${p.letter} and ${q.letter} turn about parallel axes: the sine between them is ${sine.toPrecision(2)}, the least is ${PARALLEL}`,
    );
  }
  const next = nextToHead(joints);
  const tilt = length(cross(next.axis, [0, 0, 1]));
  if (tilt < PARALLEL) {
    refuse(
      'idle-axis',
      `joint ${next.letter} turns the head about its own axis (the sine between them is ${tilt.toPrecision(2)}, the least is ${PARALLEL}), so it changes no build direction`,
    );
  }
}

/** The rotary joint that stands nearest to the head in the chain from part to head. */
function nextToHead(joints: readonly Joint[]): Joint {
  const rotary = jointsOf({ joints }, 'rotary').map((i) => joints[i]!);
  return rotary.findLast((j) => !j.carriesTable) ?? rotary[0]!;
}

function carrierOf(
  o: MachineFile['obstacles'][number],
  index: number,
  joints: readonly Joint[],
  refuse: Refuse,
): number {
  const key = `obstacles.${index}`;
  if (o.carriedBy === 'frame') return -1;
  const carrier = joints.findIndex((j) => j.letter === o.carriedBy);
  if (carrier < 0) {
    const known = joints.map((j) => j.letter).join(' ');
    refuse(
      'unknown-joint',
      `obstacle "${o.name}" is carried by joint ${o.carriedBy}, which the machine does not have (it has ${known})`,
      `${key}.carriedBy`,
    );
  }
  return carrier;
}

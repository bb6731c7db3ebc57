/**
 * Reading machine and material files: checks what the schema cannot say (joints that span space, axes
 * that cross, letters that clash) and turns degrees into radians. Whichever of its two sign conventions
 * the file uses, a rising joint value of the record moves what the joint carries along its axis.
 */
import { Fault, type Finding, Problems } from '../base/fault.js';
import { parse } from '../base/schema.js';
import { type Frame, buildFromPart, inverse } from '../base/frame.js';
import { DEG, type Vec3, angle, cross, dot, length, scale, unit } from '../base/vector.js';
import { jointsOf } from './joint-chain.js';
import { forward } from './forward.js';
import { readDrives } from './drives-read.js';
import {
  type FileJoint,
  type Joint,
  type Machine,
  type MachineFile,
  machineFile,
} from './machine.js';
import { type Material, materialFile } from './material.js';
import { checkHold } from './hold-check.js';
import { readHead, readTable } from './read-bodies.js';
import { readSolid } from './solid-check.js';
import { type RefuseMachine, checkTexts } from './line-templates.js';
import { guessesOf } from './guesses.js';
import { doubtsOf } from './usual.js';

/**
 * @param json parsed content of the machine file
 * @param file name that Faults give as their place
 * @throws Fault `machine/...` with every problem, each naming key, value, limit and unit
 */
export function readMachine(json: unknown, file?: string): Machine {
  const f = parse(machineFile, json, 'machine', file);
  const refuse: RefuseMachine = (what, message, key) => {
    throw new Fault(`machine/${what}`, message, { ...(key && { key }), ...(file && { file }) });
  };
  const problems = new Problems();
  const doubts = doubtsOf(f, 'machine', f.unusual, file);
  const guesses = guessesOf(f, json, file);
  problems.add([...doubts.problems, ...guesses.problems]);
  const joints = readJoints(f, problems, refuse);
  problems.try(() => checkTexts(f.dialect, refuse));
  const mount = problems.try(() => mountOf(f.table.normal, refuse));
  const head = problems.try(() => readHead(f, refuse));
  const table = problems.try(() => readTable(f.table, refuse));
  const solids = f.obstacles.map((o, i) =>
    problems.try(() => readSolid(o.solid, `obstacle "${o.name}"`, `obstacles.${i}`, refuse)),
  );
  if (!joints) return problems.end();
  const carriers = f.obstacles.map((o, i) => problems.try(() => carrierOf(o, i, joints, refuse)));
  const ready = problems.try(() => readyOf(f.ready, joints, refuse));
  const drives = f.drives && problems.try(() => readDrives(f.drives!, joints, refuse));
  if (problems.some) return problems.end();
  const machine: Machine = {
    name: f.name,
    joints,
    ready: ready!,
    tip: f.head.tip,
    origin: f.table.origin,
    mount: mount!,
    ...head!,
    face: f.table.face,
    ...table!,
    obstacles: f.obstacles.map((o, i) => ({
      name: o.name,
      carriedBy: carriers[i]!,
      solid: solids[i]!,
    })),
    clearance: f.clearance,
    nozzle: f.nozzle,
    filamentDiameter: f.filament.diameter,
    measured: f.measured,
    dialect: f.dialect,
    ...(drives ? { drives } : {}),
    doubts: [...doubts.findings, ...guesses.findings],
  };
  checkHold(machine, refuse);
  return { ...machine, doubts: [...machine.doubts, ...leftOut(f, machine, file)] };
}

/** The joints, or nothing if one of them or all together are refused. */
function readJoints(
  f: MachineFile,
  problems: Problems,
  refuse: RefuseMachine,
): readonly Joint[] | undefined {
  const of = (side: 'head' | 'table'): (Joint | undefined)[] =>
    f[side].joints.map((j, i) =>
      problems.try(() => jointFrom(j, side === 'table', f.positive, `${side}.joints.${i}`, refuse)),
    );
  const all = [...of('head'), ...of('table')];
  const joints = all.filter((j) => j !== undefined);
  if (joints.length < all.length) return undefined;
  problems.try(() => checkLetters(f, joints, refuse));
  const counted = problems.try(() => (checkCount(joints, refuse), true));
  const fits = counted && problems.try(() => (checkAxes(joints, refuse), true));
  return fits ? joints : undefined;
}

/** What the file does not state, and what is assumed instead. */
function leftOut(f: MachineFile, machine: Machine, file: string | undefined): Finding[] {
  const out: Finding[] = [];
  const say = (code: string, severity: Finding['severity'], key: string, message: string): void => {
    out.push({ code: `machine/${code}`, severity, message, at: { key, ...(file && { file }) } });
  };
  const open = machine.joints.flatMap((j, i) =>
    f.ready[j.letter] === undefined ? [`${j.letter} ${round(machine.ready[i]! / sizeOf(j))}`] : [],
  );
  if (open.length > 0) {
    const over = forward(machine, machine.ready).tip[2];
    say(
      'ready-assumed',
      'warning',
      'ready',
      `"ready" does not say where the start lines leave ${open.length === 1 ? 'a joint' : `${open.length} joints`}; taken as ${open.join(', ')}, which puts the tip ${over.toFixed(1)} mm over the table face, where a program begins`,
    );
  }
  if (f.obstacles.length === 0) {
    say(
      'no-obstacles',
      'note',
      'obstacles',
      'the file names no obstacles: nothing is known that the head could hit beside table and part, nor the table beside the head',
    );
  }
  return out;
}

const sizeOf = ({ kind }: Pick<Joint, 'kind'>): number => (kind === 'rotary' ? DEG : 1);

/** The least turn that takes +Z to the table normal. */
function mountOf(normal: Vec3, refuse: RefuseMachine): Frame {
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
  refuse: RefuseMachine,
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

/** @throws Fault `material/...` with every problem */
export function readMaterial(json: unknown, file?: string): Material {
  const material = parse(materialFile, json, 'material', file);
  const { problems } = doubtsOf(material, 'material', material.unusual, file);
  if (problems.length > 0) throw Fault.of(problems);
  return material;
}

/** What is unusual in a material, for the findings of whatever is made with it. */
export const materialDoubts = (material: Material): readonly Finding[] =>
  doubtsOf(material, 'material', material.unusual).findings;

function jointFrom(
  j: FileJoint,
  carriesTable: boolean,
  positive: MachineFile['positive'],
  key: string,
  refuse: RefuseMachine,
): Joint {
  if (length(j.axis) < 1e-9) {
    refuse('zero-axis', `joint ${j.letter} has the axis ${j.axis.join(' ')}, of no length`, key);
  }
  // ISO 841 states the motion of the tool relative to the workpiece: a table then runs backwards.
  const sense = positive === 'tool' && carriesTable ? -1 : 1;
  const axis = scale(unit(j.axis), j.kind === 'linear' ? sense * j.scale : sense);
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

function travelOf(j: FileJoint, key: string, refuse: RefuseMachine): readonly [number, number] {
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

function checkLetters(f: MachineFile, joints: readonly Joint[], refuse: RefuseMachine): void {
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
function checkCount(joints: readonly Joint[], refuse: RefuseMachine): void {
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
const PARALLEL_SINE = 2e-3;

function checkAxes(joints: readonly Joint[], refuse: RefuseMachine): void {
  const of = (kind: Joint['kind']): Joint[] => joints.filter((j) => j.kind === kind);
  const [x, y, z] = of('linear') as [Joint, Joint, Joint];
  const volume = Math.abs(dot(x.axis, cross(y.axis, z.axis)));
  if (volume < PARALLEL_SINE) {
    refuse(
      'linear-span',
      `the linear joints ${x.letter} ${y.letter} ${z.letter} do not span space: their axes enclose a volume of ${volume.toPrecision(2)}, the least is ${PARALLEL_SINE}`,
    );
  }
  const [p, q] = of('rotary') as [Joint, Joint];
  const sine = length(cross(p.axis, q.axis));
  if (sine < PARALLEL_SINE) {
    refuse(
      'parallel-axes',
      `the rotary joints ${p.letter} and ${q.letter} turn about parallel axes: the sine between them is ${sine.toPrecision(2)}, the least is ${PARALLEL_SINE}`,
    );
  }
  const next = nextToHead(joints);
  const tilt = length(cross(next.axis, [0, 0, 1]));
  if (tilt < PARALLEL_SINE) {
    refuse(
      'idle-axis',
      `joint ${next.letter} turns the head about its own axis (the sine between them is ${tilt.toPrecision(2)}, the least is ${PARALLEL_SINE}), so it changes no build direction${inOtherOrder(joints, next)}`,
    );
  }
}

/** Where the other turning joint of the same chain could do it, the two are probably listed the wrong way round. */
function inOtherOrder(joints: readonly Joint[], idle: Joint): string {
  const other = joints.find((j) => j.kind === 'rotary' && j !== idle)!;
  const mends =
    other.carriesTable === idle.carriesTable &&
    length(cross(other.axis, [0, 0, 1])) >= PARALLEL_SINE;
  const [outer, inner] = idle.carriesTable ? [other, idle] : [idle, other];
  return mends
    ? `; is the order of ${idle.letter} and ${other.letter} the other way round, so that ${outer.letter} carries ${inner.letter}?`
    : '';
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
  refuse: RefuseMachine,
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

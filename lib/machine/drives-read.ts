/** Reading the `drives` of a machine file: data sheet units become SI. */
import { DEG } from '../base/vector.js';
import type { Balance, Drive, Drives, DrivesFile, Motor } from './drives.js';
import type { Joint } from './machine.js';
import { checkSolid } from './solid-check.js';
import type { RefuseMachine } from './line-templates.js';

const PER_RPM = (2 * Math.PI) / 60;
const GCM2 = 1e-7;

/** @throws what `refuse` throws: unknown names, falling curves, joints that the drives cannot move apart */
export function readDrives(
  file: DrivesFile,
  joints: readonly Joint[],
  refuse: RefuseMachine,
): Drives {
  const motors = file.motors.map((m, i) => motorFrom(m, `drives.motors.${i}`, refuse));
  const drives = file.drives.map((d, i): Drive => {
    const key = `drives.drives.${i}`;
    const own = motors.find((m) => m.name === d.motor);
    if (!own) {
      const known = motors.map((m) => `"${m.name}"`).join(', ');
      return refuse('unknown-motor', `no motor is named "${d.motor}"; there are ${known}`, key);
    }
    return {
      name: d.name,
      motor: own,
      count: d.count,
      turns: turnsOf(d, joints, key, refuse),
      by: d.by,
      microsteps: d.microsteps,
      efficiency: d.efficiency,
      inertia: d.inertia * GCM2,
      belt: d.belt,
      selfLocking: d.selfLocking,
    };
  });
  for (const name of Object.keys(file.joints)) indexOf(name, joints, 'drives.joints', refuse);
  file.bodies.forEach((b, i) => {
    checkSolid(b.solid, `body "${b.name}"`, `drives.bodies.${i}`, refuse);
  });
  return {
    reserve: file.reserve,
    motors,
    drives,
    joints: joints.map((j) => {
      const own = file.joints[j.letter];
      return {
        friction: own?.friction,
        drag: own?.drag,
        brake: own?.brake ?? 0,
        balance: own?.balance && balanceFrom(own.balance, j.kind),
      };
    }),
    bodies: file.bodies.map((b, i) => ({
      name: b.name,
      carriedBy: indexOf(b.carriedBy, joints, `drives.bodies.${i}`, refuse),
      mass: b.mass,
      solid: b.solid,
    })),
  };
}

function balanceFrom(
  { torque, at, rate }: NonNullable<DrivesFile['joints'][string]['balance']>,
  kind: Joint['kind'],
): Balance {
  const size = kind === 'rotary' ? DEG : 1e-3;
  return { torque, at: at * size, rate: rate / size };
}

function motorFrom(m: DrivesFile['motors'][number], key: string, refuse: RefuseMachine): Motor {
  m.curve.forEach(([speed], i) => {
    const before = m.curve[i - 1]?.[0];
    if (i === 0 && speed !== 0) {
      refuse('motor-curve', `the curve of "${m.name}" begins at ${speed} rpm, not at 0`, key);
    }
    if (before !== undefined && speed <= before) {
      refuse('motor-curve', `the curve of "${m.name}" goes from ${before} to ${speed} rpm`, key);
    }
  });
  if (!(m.curve[0]![1] > 0)) {
    refuse('motor-curve', `"${m.name}" has a torque of 0 N m at speed 0`, key);
  }
  return {
    name: m.name,
    speeds: m.curve.map(([rpm]) => rpm * PER_RPM),
    torques: m.curve.map(([, torque]) => torque),
    rotorInertia: m.rotorInertia * GCM2,
    stepAngle: m.stepAngle === undefined ? undefined : m.stepAngle * DEG,
    detent: m.detent,
    continuous: m.continuous ?? m.curve[0]![1],
  };
}

function turnsOf(
  d: DrivesFile['drives'][number],
  joints: readonly Joint[],
  key: string,
  refuse: RefuseMachine,
): Float64Array {
  const turns = new Float64Array(joints.length);
  for (const [kind, entries] of [
    ['rotary', d.ratio],
    ['linear', d.lead],
  ] as const) {
    for (const [name, value] of Object.entries(entries)) {
      const i = indexOf(name, joints, key, refuse);
      if (joints[i]!.kind !== kind) {
        const wanted = kind === 'rotary' ? 'lead (mm a motor turn)' : 'ratio (motor turns a turn)';
        refuse(
          'drive-kind',
          `joint ${name} is ${joints[i]!.kind}: drive "${d.name}" names its ${wanted}`,
          key,
        );
      }
      turns[i] = kind === 'rotary' ? value : (2 * Math.PI * 1000) / value;
    }
  }
  const moved = turns.filter((t) => t !== 0).length;
  const rotary = Object.keys(d.ratio).length > 0;
  if (d.belt && rotary !== (d.belt.radius !== undefined)) {
    const wanted = rotary ? 'needs the pitch radius of its pulley' : 'has no pulley at the joint';
    refuse('belt', `the belt of drive "${d.name}" ${wanted}: belt.radius, mm`, `${key}.belt`);
  }
  if (moved === 0)
    refuse('drive-idle', `drive "${d.name}" moves no joint: give ratio or lead`, key);
  return turns;
}

function indexOf(
  name: string,
  joints: readonly Joint[],
  key: string,
  refuse: RefuseMachine,
): number {
  const i = joints.findIndex((j) => j.letter === name);
  if (i >= 0) return i;
  const known = joints.map((j) => j.letter).join(' ');
  return refuse('unknown-joint', `the machine has no joint ${name} (it has ${known})`, key);
}

/**
 * What drives the joints, as the machine file says it: motors by their data sheet, drives (motor,
 * ratio, belt or gear) by the joints they move, friction and brakes of joints, and the bodies that
 * are moved. All of it is optional in a machine file. The study of the drives reads all of it; plan, check,
 * error budget and calibration read what tells where joints stand under load (standing-joints.ts): weights,
 * balances, friction, and the belts of joints whose stiffness is not stated.
 */
import { z } from 'zod';
import { type Solid, solidFile } from './simple-solids.js';
import { aName, aNote } from './text-lengths.js';

const positive = z.number().positive();
const unsigned = z.number().min(0);
const letter = z.string().regex(/^[ABCUVWXYZ]$/, 'one of the axis letters A B C U V W X Y Z');
const nonzero = z.number().refine((x) => x !== 0, 'must not be 0');

const motor = z.strictObject({
  name: aName.describe('by which drives call it'),
  curve: z
    .array(z.tuple([unsigned, unsigned]))
    .min(2)
    .describe(
      'points of speed, rpm, and the greatest torque there, N m, from the data sheet at the voltage in use; speeds rise from 0, between points the torque changes evenly, beyond the last there is none',
    ),
  rotorInertia: positive.describe('inertia of the rotor, g cm2'),
  stepAngle: positive.optional().describe('deg of a full step; left out for a motor without steps'),
  detent: unsigned
    .default(0)
    .describe('N m with which it resists turning without power; 0 if not known'),
  continuous: positive
    .optional()
    .describe('N m that it gives without end; left out, the torque at speed 0 counts'),
});

const belt = z.strictObject({
  radius: positive
    .optional()
    .describe('pitch radius of the pulley at a rotary joint, mm: teeth x pitch / 2 pi'),
  stiffness: positive.describe(
    'N of tension per unit of strain (length over length), measured or from the maker; belts are stiffer under more load, so measure at the working tension',
  ),
  span: positive.describe('free length of each of the two spans, mm'),
  tension: positive.optional().describe('working tension that the maker allows, N'),
});

const drive = z.strictObject({
  name: aName.describe('by which the study calls it'),
  motor: aName.describe('name of one of the motors'),
  count: z.int().min(1).default(1).describe('equal motors that share the work'),
  ratio: z
    .record(letter, nonzero)
    .default({})
    .describe('rotary joints moved: turns of the motor for one turn of the joint'),
  lead: z
    .record(letter, nonzero)
    .default({})
    .describe(
      'linear joints moved: mm for one turn of the motor; two drives on one belt path name both joints, one of them with a minus',
    ),
  by: z
    .enum(['direct', 'belt', 'gear', 'worm', 'screw'])
    .describe('what stands between motor and joint'),
  microsteps: z.int().min(1).default(1).describe('steps that the driver makes of a full step'),
  efficiency: positive
    .max(1)
    .optional()
    .describe(
      'share of the power that arrives; 1 if left out. A screw or worm of less than one half counts as holding its load without power',
    ),
  inertia: unsigned.default(0).describe('g cm2 of pulleys and gears at the shaft of each motor'),
  belt: belt.optional().describe('the belt, where there is one and its give is to be studied'),
  selfLocking: z
    .boolean()
    .default(false)
    .describe('true if the load cannot turn the motor back, by test, not by hope'),
});

const balance = z.strictObject({
  torque: z
    .number()
    .describe(
      'N m, or N for a linear joint, with which it pushes towards rising values where the joint stands at `at`',
    ),
  at: z.number().default(0).describe('joint value, deg or mm, at which it does so'),
  rate: unsigned
    .default(0)
    .describe(
      'by how much the push falls for each deg or mm that the value rises: N m/deg or N/mm of a spring; 0 for a weight on a rope over a pulley',
    ),
});

const jointLoad = z.strictObject({
  friction: unsigned
    .optional()
    .describe(
      'dry friction at the joint, N m or N; what weighs more decides on which flank of its play the joint lies. Left out, it counts as 0 in the study of the drives, and the flank is the one from which the joint arrives',
    ),
  balance: balance
    .optional()
    .describe(
      'spring, or weight on a rope, that carries some of the load; a counterweight that moves with the joint is one of the bodies',
    ),
  drag: unsigned
    .optional()
    .describe('friction that rises with speed, N m s/rad or N s/m; 0 if left out'),
  brake: unsigned.default(0).describe('N m or N with which a brake holds without power'),
});

/** The `drives` of a machine file. */
export const drivesFile = z.strictObject({
  note: aNote.optional().describe('free text, such as where the data come from'),
  reserve: positive
    .min(1)
    .default(1.5)
    .describe('torque that the motor should have, over what is needed; 1.5 is common practice'),
  motors: z.array(motor).min(1).describe('those in use, and those to be compared'),
  drives: z.array(drive).min(1).describe('each with the joint or joints that it moves'),
  joints: z.record(letter, jointLoad).default({}).describe('friction and brakes by joint letter'),
  bodies: z
    .array(
      z.strictObject({
        name: aName.describe('by which the study calls it'),
        carriedBy: letter.describe('letter of the joint whose moving side carries it'),
        mass: positive.describe('kg, even throughout the solid'),
        solid: solidFile.describe('in machine coordinates with all joints at zero'),
      }),
    )
    .describe('what moves, by weight: slides, head, cradle, table; the part is added by itself'),
});

export type DrivesFile = z.infer<typeof drivesFile>;

export interface Motor {
  readonly name: string;
  /** Speeds, rad/s, rising from 0. */
  readonly speeds: readonly number[];
  /** Greatest torque at each of them, N m. */
  readonly torques: readonly number[];
  /** kg m2 */
  readonly rotorInertia: number;
  /** rad; undefined without steps. */
  readonly stepAngle: number | undefined;
  readonly detent: number;
  /** N m */
  readonly continuous: number;
}

export interface Drive {
  readonly name: string;
  readonly motor: Motor;
  readonly count: number;
  /** For each joint of the machine: rad of the motor for a rad or a metre of the joint; 0 if not moved. */
  readonly turns: Float64Array;
  readonly by: DrivesFile['drives'][number]['by'];
  readonly microsteps: number;
  /** undefined: not given. */
  readonly efficiency: number | undefined;
  /** At the shaft of each motor beside its rotor, kg m2. */
  readonly inertia: number;
  readonly belt: DrivesFile['drives'][number]['belt'];
  readonly selfLocking: boolean;
}

/** Push of a spring or a weight on a rope towards rising values; SI units. */
export interface Balance {
  /** N m or N where the joint stands at `at`. */
  readonly torque: number;
  /** rad or m */
  readonly at: number;
  /** By how much the push falls with a rising value, N m/rad or N/m. */
  readonly rate: number;
}

/** What holds or slows a joint; N m and rad for rotary, N and m for linear ones; undefined: not given. */
export interface JointLoad {
  readonly friction: number | undefined;
  readonly drag: number | undefined;
  readonly brake: number;
  readonly balance: Balance | undefined;
}

export interface CarriedBody {
  readonly name: string;
  /** Index in `Machine.joints`. */
  readonly carriedBy: number;
  /** kg */
  readonly mass: number;
  /** mm */
  readonly solid: Solid;
}

/** What drives a machine, in the order and by the indices of `Machine.joints`. */
export interface Drives {
  readonly reserve: number;
  readonly motors: readonly Motor[];
  readonly drives: readonly Drive[];
  readonly joints: readonly JointLoad[];
  readonly bodies: readonly CarriedBody[];
}

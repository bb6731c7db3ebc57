/**
 * The machine: the schema of its file (degrees; also published as JSON Schema for editors) and the
 * record that the stages work with (radians).
 */
import { z } from 'zod';
import type { Finding } from '../base/fault.js';
import type { Frame } from '../base/frame.js';
import type { Mesh } from '../base/mesh.js';
import type { Vec3 } from '../base/vector.js';
import { aLine, aName, aNote, anAddress, guessedKeys, unusualKeys } from './text-lengths.js';
import { type Drives, drivesFile } from './drives.js';
import {
  type HeadMesh,
  type MeshSolid,
  type Solid,
  boxFile,
  closedMesh,
  solidFile,
} from './simple-solids.js';

export type { Solid } from './simple-solids.js';

const triple = z.tuple([z.number(), z.number(), z.number()]);
const positive = z.number().positive();
const letter = z.string().regex(/^[ABCUVWXYZ]$/, 'one of the axis letters A B C U V W X Y Z');
const range = z
  .tuple([z.number(), z.number()])
  .refine(([least, most]) => least < most, 'the first number must be less than the second');

const unsure = (unit: string): z.ZodOptional<z.ZodNumber> =>
  z.number().min(0).optional().describe(`standard uncertainty of it, ${unit}, from a measurement`);

const linearJoint = z.strictObject({
  kind: z.literal('linear'),
  letter: letter.describe('address of this joint in the program, ISO 841 letters'),
  axis: triple.describe(
    'direction of the joint in machine coordinates; need not be of unit length',
  ),
  travel: range.describe('least and greatest joint value, mm'),
  speed: positive.describe('greatest speed, mm/s'),
  acceleration: positive.describe('greatest acceleration, mm/s2'),
  jerk: positive.optional().describe('greatest jerk, mm/s3; left out means not limited'),
  backlash: z.number().min(0).default(0).describe('play when the joint turns round, mm'),
  backlashUncertainty: unsure('mm'),
  scale: z
    .number()
    .min(0.9)
    .max(1.1)
    .default(1)
    .describe(
      'mm that the joint really goes for each mm that its value changes, from a calibration; 1 where the controller counts right',
    ),
});

const rotaryJoint = z.strictObject({
  kind: z.literal('rotary'),
  letter: letter.describe('address of this joint in the program, ISO 841 letters'),
  axis: triple.describe('direction of the turning axis with all joints at zero'),
  point: triple.describe('a point on the turning axis with all joints at zero, mm'),
  travel: z
    .union([range, z.literal('endless')])
    .describe('least and greatest joint value in degrees, or "endless"'),
  turns: positive
    .optional()
    .describe('how many turns either way from zero the cable allows; only for an endless axis'),
  speed: positive.describe('greatest speed, deg/s'),
  acceleration: positive.describe('greatest acceleration, deg/s2'),
  jerk: positive.optional().describe('greatest jerk, deg/s3; left out means not limited'),
  backlash: z.number().min(0).default(0).describe('play when the joint turns round, deg'),
  backlashUncertainty: unsure('deg'),
  stiffness: positive
    .optional()
    .describe('N m of torque for each deg that the joint gives; left out: not known'),
  stiffnessUncertainty: unsure('N m/deg'),
  runOut: z
    .tuple([z.number(), z.number()])
    .default([0, 0])
    .describe(
      'mm; what the joint carries shifts along the axis vector by first x (cos(value) - 1) + second x sin(value), the first harmonic of its run-out over a turn',
    ),
});

const joint = z.discriminatedUnion('kind', [linearJoint, rotaryJoint]);

const obstacle = z.strictObject({
  name: aName.describe('stands in findings and messages'),
  carriedBy: z
    .union([z.literal('frame'), letter])
    .describe(
      '"frame" for what stands still, or the letter of the joint whose moving side carries it',
    ),
  solid: z
    .discriminatedUnion('shape', [...solidFile.options, ...closedMesh.options])
    .describe('in machine coordinates with all joints at zero'),
});

/** What a machine file holds. Angles in degrees, lengths in mm. */
export const machineFile = z.strictObject({
  $schema: anAddress.optional(),
  name: aName.describe('stands in the program and in reports'),
  note: aNote.optional().describe('free text, such as how the motors drive the joints'),
  positive: z
    .enum(['body', 'tool'])
    .describe(
      'what a rising joint value moves along or about the axis vector: "body" the parts that the joint carries; "tool" the tool relative to the workpiece (ISO 841), so joints that carry the table run the other way',
    ),
  head: z
    .strictObject({
      joints: z.array(joint).describe('joints between frame and head, from the frame outwards'),
      tip: triple
        .default([0, 0, 0])
        .describe('where the nozzle tip stands with all joints at zero, mm'),
      stack: z
        .array(
          z.strictObject({
            above: z.number().min(0).describe('height above the nozzle tip, mm'),
            radius: z.number().min(0).describe('greatest radius at this height, mm'),
          }),
        )
        .default([])
        .describe(
          'the round outline of the head from the tip (0) to its top (the last entry), rising; between two entries the radius changes evenly, and two at one height make a step; may be left out where meshes hold the nozzle',
        ),
      boxes: z
        .array(boxFile)
        .default([])
        .describe(
          'what is not round (fans, carriage), relative to the tip with all joints at zero',
        ),
      meshes: z
        .array(closedMesh)
        .default([])
        .describe(
          'what the head is, or has beside outline and boxes, as closed meshes relative to the tip with all joints at zero, nothing below it',
        ),
    })
    .describe('the nozzle, what carries it, and its shape'),
  table: z
    .strictObject({
      joints: z.array(joint).describe('joints between frame and table, from the frame outwards'),
      origin: triple
        .default([0, 0, 0])
        .describe(
          'where the part origin (rotary axis meets table face) stands with all joints at zero, mm',
        ),
      normal: triple
        .default([0, 0, 1])
        .describe(
          'direction in which the table face looks with all joints at zero; part X and Y are the machine axes turned with it by the least turn',
        ),
      face: z
        .discriminatedUnion('shape', [
          z.strictObject({
            shape: z.literal('disc'),
            radius: positive.describe('of the disc, mm'),
          }),
          z.strictObject({
            shape: z.literal('rectangle'),
            size: z
              .tuple([positive, positive])
              .describe('extent along part X and Y, mm, centred on the origin'),
          }),
        ])
        .describe('where the first layer may lie'),
      thickness: positive
        .optional()
        .describe('of a table that is a plate under its face, mm; left out where there is a mesh'),
      mesh: closedMesh
        .optional()
        .describe(
          'the table itself where it is more than a plate: a closed mesh, relative to the part origin, +Z its normal',
        ),
    })
    .describe('the printing table and what carries it'),
  ready: z
    .record(letter, z.number())
    .default({})
    .describe(
      'joint values at which the start lines leave the machine, mm and deg by letter; what is left out stands at 0, or at the end of its travel that is nearest to 0',
    ),
  measured: z
    .strictObject({
      touches: z.int().positive().describe('how many touches the calibration had'),
      noise: z.number().min(0).describe('standard deviation of one touch, mm'),
      tip: z.number().min(0).describe('standard uncertainty of the place of the tip, mm'),
      covariance: z
        .strictObject({
          of: z.array(aName).min(1).describe('names of the fitted deviations'),
          rows: z
            .array(z.array(z.number()))
            .describe('lower triangle, a row a deviation; mm2, angles at a lever of 100 mm'),
        })
        .refine(
          ({ of, rows }) =>
            rows.length === of.length && rows.every((row, i) => row.length === i + 1),
          'there must be a row for each name, and the row of name n must hold n numbers',
        )
        .optional()
        .describe('of what was fitted; from it comes the uncertainty of the tip at any place'),
    })
    .optional()
    .describe('what a calibration has left uncertain; absent from a file that is as drawn'),
  obstacles: z.array(obstacle).default([]).describe('cradle, frame and what lies under the table'),
  clearance: positive.describe(
    'least distance kept between the head and anything but its own bead, mm',
  ),
  nozzle: z
    .strictObject({
      diameter: positive.describe('bore, mm'),
      flat: positive.describe('diameter of the flat tip face, mm'),
    })
    .describe('the end of the head that lays the bead'),
  filament: z
    .strictObject({ diameter: positive.describe('as measured, mm') })
    .describe('the filament that the feeder takes'),
  dialect: z
    .strictObject({
      rotaryFeed: z
        .enum(['G93', 'G94'])
        .describe(
          'feed mode of blocks in which a rotary axis turns: inverse time, or units a minute',
        ),
      rotaryFeedMeaning: z
        .enum(['tip', 'xyz'])
        .default('tip')
        .describe(
          'with G94, what F measures when rotary and linear axes move: the tip over the part, or the length of the XYZ motion',
        ),
      decimals: z
        .strictObject({
          linear: z.int().min(2).max(6).default(4).describe('of linear joints, in mm'),
          rotary: z.int().min(2).max(6).default(4).describe('of rotary joints, in deg'),
          filament: z.int().min(3).max(6).default(5).describe('of the filament, in mm'),
        })
        .prefault({})
        .describe('places after the decimal point in the program'),
      play: z
        .enum(['program', 'controller', 'nobody'])
        .optional()
        .describe(
          'who makes up for the backlash of the linear joints where they turn round: "program" tells them values that count it, and the controller must not do so too; "controller" has been given the backlash itself; "nobody" does, and the check shows what comes of it; left out, it is not known, and everything is taken at its word',
        ),
      filament: z
        .strictObject({
          letter: z
            .string()
            .regex(/^[DEUVWABC]$/)
            .default('E')
            .describe('address that meters filament'),
          mode: z
            .enum(['absolute', 'relative'])
            .describe('whether its values count from the start or from the block before'),
        })
        .describe('how filament is metered in the program'),
      start: z
        .array(aLine)
        .describe(
          'lines before the first move; {nozzleTemperature} {tableTemperature} {material} are filled in',
        ),
      end: z.array(aLine).describe('lines after the last move; the same names are filled in'),
      fan: z
        .strictObject({
          on: aLine.describe('{share} is filled in, 0 to 1; {byte} 0 to 255'),
          off: aLine.describe('line that stops the fan'),
        })
        .optional()
        .describe('lines that set the fan; left out: the machine has none'),
      nozzleTemperature: aLine
        .optional()
        .describe('line that sets the nozzle temperature; {value} is filled in, deg C'),
      tableTemperature: aLine
        .optional()
        .describe('line that sets the table temperature; {value} is filled in, deg C'),
    })
    .describe('how the controller wants its program written'),
  unusual: unusualKeys,
  guessed: guessedKeys,
  drives: drivesFile
    .optional()
    .describe(
      'motors and weights: for the study of drives, and for how far joints give under what they carry',
    ),
});

export type MachineFile = z.infer<typeof machineFile>;
/** A joint of the head or the table as the file states it. */
export type FileJoint = MachineFile['head']['joints'][number];

/** One joint. Radians and rad/s for rotary joints, mm and mm/s for linear ones. */
export interface Joint {
  readonly kind: 'linear' | 'rotary';
  readonly letter: string;
  /** True if it carries the table, false if it carries the head. */
  readonly carriesTable: boolean;
  /**
   * Direction in which, or about which, a rising value moves what the joint carries: of unit length for a rotary
   * joint, for a linear one as long as it really goes for 1 mm of its value.
   */
  readonly axis: Vec3;
  /** A point on the axis with all joints at zero; zero for linear joints. */
  readonly point: Vec3;
  /** Travel; an endless axis without a turn limit has infinite ends. */
  readonly least: number;
  readonly most: number;
  readonly endless: boolean;
  readonly speed: number;
  readonly acceleration: number;
  /** Infinity where not limited. */
  readonly jerk: number;
  readonly backlash: number;
  /** Standard uncertainty of the backlash; undefined where nobody has measured it. */
  readonly backlashUncertainty: number | undefined;
  /** N m/rad; undefined for linear joints and where nobody has measured it. */
  readonly stiffness: number | undefined;
  /** Standard uncertainty of the stiffness, N m/rad. */
  readonly stiffnessUncertainty: number | undefined;
  /** Shift along the axis by [0] (cos(value) - 1) + [1] sin(value), mm; zero for linear joints. */
  readonly runOut: readonly [number, number];
}

/**
 * The machine as the stages use it. `joints` is the order of every joint-value array: first those
 * that carry the head, from the frame outwards, then those that carry the table, likewise.
 */
export interface Machine {
  readonly name: string;
  readonly joints: readonly Joint[];
  /** Joint values before the first move, mm and rad. */
  readonly ready: Float64Array;
  readonly tip: Vec3;
  readonly origin: Vec3;
  /** Turns part directions into machine directions with all joints at zero: +Z is the table normal. */
  readonly mount: Frame;
  readonly stack: readonly { readonly above: number; readonly radius: number }[];
  readonly headBoxes: readonly { readonly from: Vec3; readonly to: Vec3 }[];
  readonly headMeshes: readonly HeadMesh[];
  readonly face: MachineFile['table']['face'];
  /** How far the table reaches under its face, mm. */
  readonly tableThickness: number;
  /** The table in place of a plate, part frame; undefined where it is one. */
  readonly tableMesh: Mesh | undefined;
  /** `carriedBy` is an index in `joints`, or -1 for the frame. */
  readonly obstacles: readonly {
    readonly name: string;
    readonly carriedBy: number;
    readonly solid: Solid | MeshSolid;
  }[];
  readonly clearance: number;
  readonly nozzle: { readonly diameter: number; readonly flat: number };
  readonly filamentDiameter: number;
  /** What a calibration has left uncertain; undefined for a machine as drawn. */
  readonly measured: MachineFile['measured'];
  readonly dialect: MachineFile['dialect'];
  /** What drives the joints, if the file says so. */
  readonly drives?: Drives;
  /** Numbers that are not usual, and what had to be assumed. */
  readonly doubts: readonly Finding[];
}

/** The test pieces for a machine: parts that show one error each when printed. */
import type { SolidKernel } from '../kernel/solid.js';
import type { Machine, MachineFile } from '../machine/machine.js';
import { heldMachine, layoutOf } from './layout.js';
import type { TestPiece } from './piece.js';
import { ringPiece } from './ring.js';
import { crossPiece, ladderPiece } from './roof.js';
import { bridgePiece, fanPiece } from './upright.js';

/** Before any of them is printed. */
export const CAUTIONS: readonly string[] = [
  'The nozzle and the table burn, a tilting cradle crushes fingers: keep hands out while anything moves, run a new program first cold and without filament, a hand on the stop.',
  'Change one number at a time, keep the machine file as it was, print the same piece again.',
];

/** @throws Fault `pieces/machine` if the machine turns in another way than the pieces need */
export function testPieces(machine: Machine, kernel: SolidKernel): TestPiece[] {
  const layout = layoutOf(machine);
  return [
    ...(layout.tilt.carriesTable ? [ladderPiece(layout, kernel)] : []),
    ringPiece(layout, kernel),
    crossPiece(layout, kernel),
    bridgePiece(kernel),
    fanPiece(kernel),
  ];
}

/** Pieces that this machine's errors do not show in, and why. */
export function leftOut(machine: Machine): { readonly name: string; readonly why: string }[] {
  const { tilt } = layoutOf(machine);
  if (tilt.carriesTable) return [];
  return [
    {
      name: 'backlash-ladder',
      why: `play of ${tilt.letter}, which tilts the head, moves all that it builds at one tilt by the same way, parallel: no rung gets lower than the next, and the shift looks like one of the axis. Measure it with "tiltwright calibrate play"`,
    },
  ];
}

/** The machine file for the pieces that are `held`. */
export const heldFile = (file: MachineFile, machine: Machine): MachineFile =>
  heldMachine(file, layoutOf(machine));

/** The page of words of a piece. */
export const pageOf = ({ name, shows, page }: TestPiece): string =>
  [`${name}: ${shows}`, '', ...page.flatMap((p) => [p, '']), 'Take care', '', ...CAUTIONS, ''].join(
    '\n',
  );

/** The test pieces: a machine comes in, parts that show one error each when printed go out. */
import type { SolidKernel } from '../kernel/solid.js';
import type { Machine, MachineFile } from '../machine/machine.js';
import { heldMachine, layoutOf } from './layout.js';
import type { Piece } from './piece.js';
import { ringPiece } from './ring.js';
import { crossPiece, ladderPiece } from './roof.js';
import { bridgePiece, fanPiece } from './upright.js';

/** Before any of them is printed. */
export const CAUTIONS: readonly string[] = [
  'The nozzle and the table burn, a tilting cradle crushes fingers: keep hands out while anything moves, run a new program first cold and without filament, a hand on the stop.',
  'Change one number at a time, keep the machine file as it was, print the same piece again.',
];

/** @throws Fault `pieces/machine` if the machine turns in another way than the pieces need */
export function testPieces(machine: Machine, kernel: SolidKernel): Piece[] {
  const layout = layoutOf(machine);
  return [
    // A head that tilts too little still runs level: only a table's tilt leans what is laid.
    ...(layout.tilt.carriesTable ? [ladderPiece(layout, kernel)] : []),
    ringPiece(layout, kernel),
    crossPiece(layout, kernel),
    bridgePiece(kernel),
    fanPiece(kernel),
  ];
}

/** The machine file for the pieces that are `held`. */
export const heldFile = (file: MachineFile, machine: Machine): MachineFile =>
  heldMachine(file, layoutOf(machine));

/** The page of words of a piece. */
export const pageOf = ({ name, shows, page }: Piece): string =>
  [`${name}: ${shows}`, '', ...page.flatMap((p) => [p, '']), 'Take care', '', ...CAUTIONS, ''].join(
    '\n',
  );

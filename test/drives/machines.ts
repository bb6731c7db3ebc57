/** A machine with a tilting and turning table whose drives a test sets; plain round numbers. */
import type { z } from 'zod';
import type { drivesFile } from '../../lib/machine/drives.js';
import type { Machine } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { acJson } from '../machine/machines.js';

export type DrivesJson = z.input<typeof drivesFile>;

export const motor = {
  name: 'm',
  curve: [
    [0, 0.3],
    [300, 0.3],
    [1500, 0],
  ] as [number, number][],
  rotorInertia: 57,
  stepAngle: 1.8,
  detent: 0.01,
};

/** Two motors on one belt path for X and Y, a screw, a belt at A and a gear at C. */
export const drives = (change: Partial<DrivesJson> = {}): DrivesJson => ({
  motors: [motor],
  drives: [
    { name: 'm0', motor: 'm', lead: { X: 40, Y: 40 }, by: 'belt', microsteps: 16 },
    { name: 'm1', motor: 'm', lead: { X: 40, Y: -40 }, by: 'belt', microsteps: 16 },
    { name: 'lift', motor: 'm', count: 3, lead: { Z: 8 }, by: 'screw', microsteps: 16 },
    { name: 'tilt', motor: 'm', ratio: { A: 20 }, by: 'belt', microsteps: 16 },
    { name: 'turn', motor: 'm', ratio: { C: 20 }, by: 'gear', microsteps: 16 },
  ],
  bodies: [],
  ...change,
});

/** Axes A and C through the origin; the table's face has a radius of 100 mm. */
export function machineWith(change: Partial<DrivesJson> = {}): Machine {
  return readMachine({ ...acJson(), drives: drives(change) });
}

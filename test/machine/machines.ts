/**
 * Machine files for tests, plain JSON as a user would write it: three splits of the two rotary
 * joints between head and table, with generous travel. `change` edits a copy before it is read.
 */
import type { z } from 'zod';
import type { Machine, MachineFile, machineFile } from '../../lib/machine/machine.js';
import { readMachine } from '../../lib/machine/read-files.js';

export type Json = z.input<typeof machineFile>;
type JointJson = Json['head']['joints'][number];

export const linear = (letter: string, axis: [number, number, number]): JointJson => ({
  kind: 'linear',
  letter,
  axis,
  travel: [-500, 500],
  speed: 200,
  acceleration: 2000,
});

export const rotary = (
  letter: string,
  axis: [number, number, number],
  travel: [number, number] | 'endless',
  point: [number, number, number] = [0, 0, 0],
): JointJson => ({
  kind: 'rotary',
  letter,
  axis,
  point,
  travel,
  speed: 90,
  acceleration: 600,
});

// Made anew for each machine: tests change what they are given, and those of one lane share their modules.
const alongX = (): JointJson => linear('X', [1, 0, 0]);
const alongY = (): JointJson => linear('Y', [0, 1, 0]);
const alongZ = (): JointJson => linear('Z', [0, 0, 1]);

const common = (positive: MachineFile['positive']): Omit<Json, 'name' | 'head' | 'table'> => ({
  positive,
  clearance: 1,
  nozzle: { diameter: 0.4, flat: 0.8 },
  filament: { diameter: 1.75 },
  dialect: {
    rotaryFeed: 'G93',
    filament: { letter: 'E', mode: 'relative' },
    start: ['G21', '(material {material})'],
    end: ['M2'],
  },
});

export const stack = [
  { above: 0, radius: 0.4 },
  { above: 8, radius: 4 },
  { above: 8, radius: 9 },
  { above: 30, radius: 18 },
  { above: 60, radius: 22 },
];

const face = { shape: 'disc', radius: 100 } as const;

/** Table tilts about X and turns about Z; r and d place the axes as in the published convention. */
export function acJson(
  positive: MachineFile['positive'] = 'body',
  r: [number, number, number] = [0, 0, 0],
  d: [number, number, number] = [0, 0, 0],
): Json {
  return {
    name: 'tilting and turning table, A and C',
    ...common(positive),
    head: { joints: [alongX(), alongY(), alongZ()], stack },
    table: {
      joints: [
        rotary('A', [1, 0, 0], [-120, 120], [r[0] + d[0], r[1] + d[1], r[2] + d[2]]),
        rotary('C', [0, 0, 1], 'endless', r),
      ],
      face,
      thickness: 6,
    },
  };
}

/** Table tilts about Y and turns about Z. */
export function bcJson(
  positive: MachineFile['positive'] = 'body',
  r: [number, number, number] = [0, 0, 0],
  d: [number, number, number] = [0, 0, 0],
): Json {
  return {
    name: 'tilting and turning table, B and C',
    ...common(positive),
    head: { joints: [alongX(), alongY(), alongZ()], stack },
    table: {
      joints: [
        rotary('B', [0, 1, 0], [-120, 120], [r[0] + d[0], r[1] + d[1], r[2] + d[2]]),
        rotary('C', [0, 0, 1], 'endless', r),
      ],
      face,
      thickness: 6,
    },
  };
}

/** The head tilts about Y at the end of X, Z; the table runs along Y and turns about Z. */
export function headTableJson(positive: MachineFile['positive'] = 'body'): Json {
  return {
    name: 'tilting head, turning table',
    ...common(positive),
    head: { joints: [alongX(), alongZ(), rotary('B', [0, 1, 0], [-100, 100], [0, 0, 60])], stack },
    table: { joints: [alongY(), rotary('C', [0, 0, 1], 'endless')], face, thickness: 6 },
  };
}

/** Both rotary joints in the head: C above, B below, with offsets between the axes. */
export function headHeadJson(positive: MachineFile['positive'] = 'body'): Json {
  return {
    name: 'turning and tilting head',
    ...common(positive),
    head: {
      joints: [
        alongX(),
        alongY(),
        alongZ(),
        rotary('C', [0, 0, 1], [-400, 400], [3, -2, 0]),
        rotary('B', [0, 1, 0], [-110, 110], [5, 1, 70]),
      ],
      stack,
    },
    table: { joints: [], face, thickness: 6 },
  };
}

export const machineOf = (json: Json): Machine => readMachine(json);

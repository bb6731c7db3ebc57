/**
 * What is recounted: the parts of the corpus and of the samples, and three made to be hard: tall, near
 * the rim of the table, built with the tilt nearly at its end; and one with the bodies of the machine as
 * meshes. Each on every sample machine. Last come parts in curved layers, one of them laid solid: only
 * then is the room of the part what the beads must fill.
 */
import type { Mesh } from '../../lib/base/mesh.js';
import type { SolidKernel } from '../../lib/kernel/solid.js';
import { type PartName, partNames, parts } from '../../samples/parts.js';
import { corpus } from '../corpus/corpus.js';
import { sampleJson } from '../support/jobs.js';
import {
  type Limbs,
  hollowSphere,
  mushroom,
  postWithArm,
  ringLying,
  standing,
} from '../support/shapes.js';
import { inMeshes } from './bodies.js';
import type { File } from './chain.js';

export interface Case {
  readonly name: string;
  build(limbs: Limbs, solid: SolidKernel): Mesh;
  /** Content of the job file. */
  readonly job: object;
  /** The head turns while it lays: its beads are counted too, against the part and against the check. */
  readonly curved?: true;
  /** Another machine file in the place of a sample one; left out: just that. */
  readonly machine?: (file: File) => File;
}

export const machineNames = ['table-table-ac', 'table-table-bc', 'head-table'] as const;

const jobOfSample = (name: PartName): object => {
  const { layers, paths } = sampleJson(`${name}/job.json`) as Record<string, object>;
  return { layers: { form: 'auto', ...layers }, paths };
};

/** One region of curved layers with so much of its inside filled. */
export const curvedJob = (density: number): object => ({
  layers: { thickness: 0.2, form: 'field' },
  paths: { fill: { density } },
  regions: { most: 1, footing: 'report' },
});

const THICK = { layers: { thickness: 0.3 } };

export const cases: readonly Case[] = [
  {
    name: 'tall: post of 140 mm with an arm at its top',
    build: () => postWithArm(20, 140),
    job: THICK,
  },
  {
    name: 'rim: post with an arm, 52 mm from the middle',
    build: () => postWithArm(20, 60),
    job: { ...THICK, place: { at: [40, 33], turn: 30 } },
  },
  {
    name: 'full tilt: an arm built along 94 deg',
    build: () => postWithArm(20, 100),
    job: {
      ...THICK,
      regions: {
        steer: { cuts: [{ point: [10, 0, 90], normal: [1, 0, 0], direction: [1, 0, -0.07] }] },
      },
    },
  },
  {
    name: 'meshes: head and all around it as closed meshes, post with an arm',
    build: () => postWithArm(20, 60),
    job: THICK,
    machine: inMeshes,
  },
  ...partNames.map((name) => ({
    name,
    build: (_: Limbs, solid: SolidKernel) => parts[name](solid),
    job: jobOfSample(name),
  })),
  // Some of them would not hold on to the table, and are printed all the same.
  ...corpus.map(({ name, build }) => ({
    name,
    build,
    job: { ...THICK, regions: { footing: 'report' } },
  })),
  {
    name: 'curved: a ring that lies on the table',
    build: () => ringLying(12, 3),
    job: curvedJob(0.2),
    curved: true,
  },
  {
    name: 'curved: the same ring laid solid',
    build: () => ringLying(12, 3),
    job: curvedJob(1),
    curved: true,
  },
  {
    name: 'curved: a hollow ball, closed over its cavity',
    build: () => standing(hollowSphere(10, 8, 96)),
    job: curvedJob(0.2),
    curved: true,
  },
  {
    name: 'curved: a small mushroom',
    build: () => mushroom(3, 9, 8, 3, 48),
    job: curvedJob(0.2),
    curved: true,
  },
];

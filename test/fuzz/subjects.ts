/**
 * What is fed with changed inputs: each reader by the formats that it takes, the settings files, and the
 * whole check. An input ends well in a record or in a Fault; anything else that is thrown is a defect.
 */
import { readFileSync } from 'node:fs';
import { Fault } from '../../lib/base/fault.js';
import type { Random } from '../../lib/base/random.js';
import { parse } from '../../lib/base/schema.js';
import { jobFile } from '../../lib/job/job-file.js';
import type { SolidKernel } from '../../lib/kernel/solid.js';
import { readMachine, readMaterial } from '../../lib/machine/read-files.js';
import { inspect } from '../../lib/mesh/repair/inspect.js';
import type { Mesh } from '../../lib/mesh/mesh.js';
import { readPart } from '../../lib/formats/read-part.js';
import { writeStl, writeThreeMf } from '../../lib/formats/write-mesh.js';
import { readOptions } from '../../lib/program/options.js';
import { readProgram } from '../../lib/program/read-program.js';
import { verify } from '../../lib/verify/verify.js';
import { packaged } from '../../worker/built.js';
import {
  boxFacets,
  boxMesh,
  asciiStl,
  boxModel,
  bytesOf,
  model,
  objText,
  threeMf,
} from '../formats/files.js';
import { changed } from '../support/changed.js';
import { cuboid, torus } from '../support/shapes.js';
import { changedJson, changedText, pick } from './mutate.js';
import { SNIPPETS, printed, spelled } from './programs.js';

export interface Subject {
  readonly name: string;
  /** Ending of a file that holds such an input. */
  readonly ending: string;
  make(random: Random): Uint8Array;
  /** @throws Fault for an input that is refused; any other Error is a defect */
  run(bytes: Uint8Array): void;
}

const json = (path: string): unknown => JSON.parse(readFileSync(packaged(path), 'utf8'));
const text = (bytes: Uint8Array): string => new TextDecoder().decode(bytes);

export function subjects(solid: SolidKernel): Subject[] {
  return [...meshes(solid), ...settings(), ...programs()];
}

const two = [...boxFacets([0, 0, 0], [10, 10, 10]), ...boxFacets([5, 5, 5], [10, 10, 10])];
const stl = writeStl(torus(20, 5, 12, 8));
const obj = objText(two);
const packed = writeThreeMf([{ name: 'ring', mesh: torus(20, 5, 12, 8) }]);
/** Boxes in components in components, placed several times. */
const nested = model(
  `<object id="1" type="model">${boxMesh([0, 0, 0], [10, 10, 10])}</object>` +
    '<object id="2"><components><component objectid="1"/><component objectid="1" transform="1 0 0 0 1 0 0 0 1 20 0 0"/></components></object>' +
    '<object id="3"><components><component objectid="2"/><component objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 30 0"/></components></object>',
  '<item objectid="3"/><item objectid="1" transform="1 0 0 0 1 0 0 0 1 5 5 5"/>',
);
const XML = [
  '<component objectid="1"/>',
  '<component objectid="2"/>',
  '<item objectid="3"/>',
  '<item objectid="2" transform="1 0 0 0 -1 0 0 0 1e9 0 0 0"/>',
  '<object id="4"><components><component objectid="3"/><component objectid="3"/></components></object>',
  '<!DOCTYPE a [<!ENTITY b "c">]>',
  '&lt;',
  '<![CDATA[',
  '<metadata name="x">y</metadata>',
  '</components>',
  '</object>',
];
/** XML stands on few lines; a change of lines then works on elements. */
const byElement = (xml: string): string => xml.replaceAll('><', '>\n<');

function meshes(solid: SolidKernel): Subject[] {
  const run = (bytes: Uint8Array): void => {
    const { mesh } = readPart(bytes, 'changed', solid, {});
    inspect(mesh, solid, { thinBelow: 0.8 });
  };
  return [
    {
      name: 'stl',
      ending: 'stl',
      make: (random) =>
        random() < 0.3
          ? changed(stl, random)
          : random() < 0.4
            ? otherFloats(stl, random)
            : changedText(text(asciiStl(two)), ['vertex 1 1e30 0', 'endloop', 'solid'], random),
      run,
    },
    {
      name: 'obj',
      ending: 'obj',
      make: (random) =>
        random() < 0.2
          ? changed(bytesOf(obj), random)
          : changedText(obj, ['f 1 2 3 4 5', 'f 99999 1 2', 'v 1e30 0 0', 'f -1 -2 -3'], random),
      run,
    },
    {
      name: '3mf',
      ending: '3mf',
      make: (random) =>
        random() < 0.2
          ? changed(packed, random)
          : threeMf(changedText(byElement(pick([boxModel(), nested], random)), XML, random)),
      run,
    },
  ];
}

/** One to four of the coordinates of a binary STL file become other floats, any bits that there are. */
function otherFloats(bytes: Uint8Array, random: Random): Uint8Array {
  const out = bytes.slice();
  const view = new DataView(out.buffer);
  const facets = (out.length - 84) / 50;
  for (let k = 1 + Math.floor(random() * 4); k > 0; k--) {
    const at = 84 + 50 * Math.floor(random() * facets) + 12 + 4 * Math.floor(random() * 9);
    if (random() < 0.5) view.setUint32(at, Math.floor(random() * 2 ** 32), true);
    else view.setFloat32(at, pick([0, 1e-30, 1e6, -1e9, 3e38, NaN, Infinity], random), true);
  }
  return out;
}

const NAMES = ['table-table-ac', 'table-table-bc', 'head-table'];
/** Joints of the head-table machine have other letters; its program is told to it all the same. */
const programFor = (name: string): string => printed(name === 'table-table-bc' ? 'B' : 'A');

function settings(): Subject[] {
  const machines = NAMES.map((name) => json(`samples/machines/${name}.json`));
  const materials = ['abs', 'petg', 'pla'].map((name) => json(`samples/materials/${name}.json`));
  const jobs = ['gutter-elbow', 'hose-manifold', 'sprinkler-cap', 'trellis-node'].map((name) =>
    json(`samples/${name}/job.json`),
  );
  // With every key that there is.
  jobs.push(parse(jobFile, {}, 'job'));
  return [
    {
      name: 'machine',
      ending: 'json',
      make: (random) => changedJson(pick(machines, random), random),
      run(bytes) {
        const machine = readMachine(parsed(bytes));
        const tilt = machine.joints.some((j) => j.letter === 'B') ? 'B' : 'A';
        checked(printed(tilt), machine);
      },
    },
    {
      name: 'material',
      ending: 'json',
      make: (random) => changedJson(pick(materials, random), random),
      run: (bytes) => void readMaterial(parsed(bytes)),
    },
    {
      name: 'job',
      ending: 'json',
      make: (random) => changedJson(pick(jobs, random), random),
      run: (bytes) => void parse(jobFile, parsed(bytes), 'job'),
    },
  ];
}

/** As the command reads a JSON file. */
function parsed(bytes: Uint8Array): unknown {
  try {
    return JSON.parse(text(bytes));
  } catch (error) {
    throw new Fault('file/not-json', (error as Error).message);
  }
}

function programs(): Subject[] {
  const machines = NAMES.map((name) => readMachine(json(`samples/machines/${name}.json`)));
  const texts = [...NAMES.map(programFor), spelled];
  const part = cuboid([4, 4, 0.6], [2, 2, 0]);
  const make = (random: Random): Uint8Array => {
    const which = Math.floor(random() * NAMES.length);
    // The last digit of the file says on which machine it is run.
    const body = changedText(pick([texts[which]!, spelled], random), SNIPPETS, random);
    return Uint8Array.from([...body, 10, 59, 48 + which]);
  };
  const machineFor = (bytes: Uint8Array): (typeof machines)[number] =>
    machines[(bytes.at(-1)! - 48) % machines.length] ?? machines[0]!;
  return [
    {
      name: 'program',
      ending: 'ngc',
      make,
      run(bytes) {
        const options = readOptions(machineFor(bytes));
        const whole = readProgram(text(bytes), { ...options, onFault: () => {} });
        for (const list of [whole.seconds, whole.filament]) assertFinite(list);
        assertPlaces(whole.joints);
        readProgram(text(bytes), options);
      },
    },
    {
      name: 'check',
      ending: 'ngc',
      make,
      run: (bytes) => checked(text(bytes), machineFor(bytes), bytes.length % 2 ? part : undefined),
    },
  ];
}

/** The check of a program; every figure of it must survive JSON. */
function checked(program: string, machine: ReturnType<typeof readMachine>, part?: Mesh): void {
  const { check } = verify(program, machine, {
    flow: { least: 0.5, most: 12 },
    ...(part ? { part } : {}),
  });
  if (/:null[,}\]]/.test(JSON.stringify(check)))
    throw new Error('a figure of the check is no number');
}

function assertFinite(list: Float64Array): void {
  const bad = list.findIndex((v) => !Number.isFinite(v));
  if (bad >= 0) throw new Error(`entry ${bad} is ${list[bad]}`);
}

/** NaN stands for a place that is not known; no other joint value may be without an end. */
function assertPlaces(list: Float64Array): void {
  const bad = list.findIndex((v) => Math.abs(v) === Infinity);
  if (bad >= 0) throw new Error(`joint value ${bad} is ${list[bad]}`);
}

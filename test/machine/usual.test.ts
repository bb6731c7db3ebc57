/**
 * Numbers that nobody means. The ranges are common practice, no source; what is tested is that values of
 * the trade (1.75 and 2.85 mm filament, 0.2 to 1 mm nozzles) pass and that the same with a slipped point
 * or in another unit do not.
 */
import { readFileSync, readdirSync } from 'node:fs';
import { describe, expect, it, test } from 'vitest';
import { z } from 'zod';
import { Fault } from '../../lib/base/fault.js';
import { machineFile } from '../../lib/machine/machine.js';
import { materialFile } from '../../lib/machine/material.js';
import { materialDoubts, readMachine, readMaterial } from '../../lib/machine/read-files.js';
import { USUAL } from '../../lib/machine/usual.js';
import { jobFile } from '../../lib/job/job-file.js';

/** Why a number has no row: it has no size of its own, or the schema and the reader bound it. */
const WITHOUT: Readonly<Record<string, string>> = {
  'axis.*': 'a direction of any length',
  'table.normal.*': 'a direction of any length',
  'ready.*': 'held against the travel',
  'decimals.linear': 'the schema allows 2 to 6',
  'decimals.rotary': 'the schema allows 2 to 6',
  'decimals.filament': 'the schema allows 3 to 6',
  'measured.touches': 'a count',
  'rows.*.*': 'from a fit',
  'vertices.*.*': 'held as a whole against the size of a machine',
  'triangles.*.*': 'held against the count of vertices',
  fan: 'the schema allows 0 to 1',
};

/* eslint-disable @typescript-eslint/no-explicit-any -- files are changed at any place */
const samples = new URL('../../samples/', import.meta.url);
const sample = (path: string): any => JSON.parse(readFileSync(new URL(path, samples), 'utf8'));
const ac = (change: (json: any) => void): any => {
  const json = sample('machines/table-table-ac.json');
  change(json);
  return json;
};
const pla = (change: object): any => ({ ...sample('materials/pla.json'), ...change });
const faultOf = (work: () => unknown): Fault => {
  try {
    work();
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error('was accepted');
};

test('the samples give no reason to ask', () => {
  for (const name of readdirSync(new URL('machines/', samples)))
    expect(readMachine(sample(`machines/${name}`)).doubts, name).toEqual([]);
  for (const name of readdirSync(new URL('materials/', samples)))
    expect(materialDoubts(readMaterial(sample(`materials/${name}`))), name).toEqual([]);
});

test.each([1.75, 2.85, 3])('a filament of %f mm passes', (diameter) => {
  expect(readMachine(ac((j) => (j.filament.diameter = diameter))).doubts).toEqual([]);
});

describe('what cannot be meant is refused', () => {
  it.each<[string, (json: any) => void, string, RegExp]>([
    [
      '28.5 for 2.85',
      (j) => (j.filament.diameter = 28.5),
      'filament.diameter',
      /28\.5 mm, the limits are 1 to 6 mm, usual is 1\.6 to 3\.1 mm/,
    ],
    [
      '4 for 0.4',
      (j) => ((j.nozzle.diameter = 4), (j.nozzle.flat = 4)),
      'nozzle.diameter',
      /4 mm, the limits are 0\.05 to 3 mm/,
    ],
    [
      'a speed of 0.1 mm/s',
      (j) => (j.head.joints[1].speed = 0.1),
      'head.joints.1.speed',
      /0\.1 mm\/s/,
    ],
    [
      'a table in metres',
      (j) => (j.table.face.radius = 0.08),
      'table.face.radius',
      /0\.08 mm, the limits are 5/,
    ],
    [
      'a travel in micrometres',
      (j) => (j.head.joints[1].travel = [-160000, 160000]),
      'head.joints.1.travel.0',
      /-160000 mm, the limits are -10000 to 10000 mm/,
    ],
    [
      'a rotor as heavy as a car wheel',
      (j) => (j.drives.motors[0].rotorInertia = 57e7),
      'drives.motors.0.rotorInertia',
      /g cm2/,
    ],
  ])('%s', (_, change, key, message) => {
    const fault = faultOf(() => readMachine(ac(change), 'm.json'));
    const problems = fault.problems.length > 0 ? fault.problems : [fault];
    const found = problems.find((p) => p.at?.key === key)!;
    expect(found.code).toBe('machine/not-meant');
    expect(found.message).toMatch(message);
    expect(found.message).toContain(`list "${key}" under "unusual"`);
    // The file can say that it is meant.
    const said = ac((j) => (change(j), (j.unusual = problems.map((p) => p.at!.key))));
    const { doubts } = readMachine(said);
    expect(doubts.map((d) => [d.severity, d.at?.key])).toEqual(
      problems.map((p) => ['note', p.at!.key]),
    );
  });

  it('in a material', () => {
    const fault = faultOf(() => readMaterial(pla({ density: 1240, nozzleTemperature: 21 })));
    expect(fault.problems.map((p) => p.at?.key)).toEqual(['density', 'nozzleTemperature']);
    const meant = pla({
      density: 1240,
      nozzleTemperature: 21,
      unusual: ['density', 'nozzleTemperature'],
    });
    expect(materialDoubts(readMaterial(meant)).map((d) => d.severity)).toEqual(['note', 'note']);
  });
});

test('what is rare but possible is a warning', () => {
  const { doubts } = readMachine(
    ac((j) => ((j.nozzle.diameter = 1.8), (j.nozzle.flat = 3), (j.head.joints[0].speed = 1))),
  );
  expect(doubts.map((d) => [d.severity, d.code, d.at?.key])).toEqual([
    ['warning', 'machine/unusual', 'head.joints.0.speed'],
    ['warning', 'machine/unusual', 'nozzle.diameter'],
  ]);
  expect(materialDoubts(readMaterial(pla({ tableTemperature: 160 })))[0]).toMatchObject({
    severity: 'warning',
    message: expect.stringMatching(/tableTemperature is 160 deg C; usual is 0 to 130 deg C/),
  });
});

test('"unusual" names a number of the file, or is refused with the nearest', () => {
  const fault = faultOf(() => readMachine(ac((j) => (j.unusual = ['nozle.diameter']))));
  expect(fault.code).toBe('machine/unknown-key');
  expect(fault.message).toMatch(/"nozle\.diameter".*did you mean "nozzle\.diameter"\?/);
});

describe('what a machine file leaves out is said', () => {
  it('where the start lines leave the joints', () => {
    const { doubts } = readMachine(ac((j) => (j.ready = { Z: 240, A: 0 })));
    expect(doubts).toMatchObject([{ code: 'machine/ready-assumed', severity: 'warning' }]);
    expect(doubts[0]!.message).toMatch(
      /3 joints; taken as Y 0, X 0, C 0, .*tip 240\.0 mm over the table/,
    );
  });

  it('that nothing stands around the table', () => {
    const { doubts } = readMachine(ac((j) => (j.obstacles = [])));
    expect(doubts).toMatchObject([{ code: 'machine/no-obstacles', severity: 'note' }]);
  });

  it('everything that is wrong at once: joints, texts, outline, table, numbers', () => {
    const fault = faultOf(() =>
      readMachine(
        ac((j) => {
          j.head.joints[2].axis = [0, 0, 0];
          j.dialect.start.push('M900 {nozzleTemp}');
          j.head.stack[1].above = 40;
          j.obstacles[0].solid.from = [200, 0, 0];
          delete j.table.thickness;
          j.filament.diameter = 28.5;
        }),
      ),
    );
    expect(new Set(fault.problems.map((p) => p.code))).toEqual(
      new Set([
        'machine/zero-axis',
        'machine/unknown-name',
        'machine/stack',
        'machine/box',
        'machine/table',
        'machine/not-meant',
      ]),
    );
  });
});

interface Node {
  type?: string;
  const?: unknown;
  enum?: unknown;
  pattern?: string;
  maxLength?: number;
  properties?: Record<string, Node>;
  additionalProperties?: Node | boolean;
  propertyNames?: Node;
  items?: Node;
  prefixItems?: Node[];
  anyOf?: Node[];
  oneOf?: Node[];
}

/** Every leaf with its names as the table has them. */
function leaves(node: Node, names: string[]): [string[], Node][] {
  const kind = node.properties?.['kind']?.const;
  const own = kind ? [...names.slice(0, -1), String(kind)] : names;
  const inner = [
    ...Object.entries(node.properties ?? {}).flatMap(([key, n]) => leaves(n, [...own, key])),
    ...[node.items, ...(node.prefixItems ?? []), node.additionalProperties]
      .filter((n): n is Node => typeof n === 'object')
      .flatMap((n) => leaves(n, [...own, '*'])),
    ...[...(node.anyOf ?? []), ...(node.oneOf ?? [])].flatMap((n) => leaves(n, names)),
  ];
  return inner.length > 0 ? inner : [[names, node]];
}
const leavesOf = (schema: z.ZodType): [string[], Node][] =>
  leaves(z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as Node, []);
const FILES = { machine: machineFile, material: materialFile, job: jobFile };

test.each(['machine', 'material'] as const)(
  'every number of a %s file has a row in the table, or a reason to have none',
  (what) => {
    // A curve has a row for each of its two columns.
    const rows = [...Object.keys(USUAL), ...Object.keys(WITHOUT), 'curve.*.*'];
    const bare = leavesOf(FILES[what])
      .filter(([, node]) => node.type === 'number' || node.type === 'integer')
      .map(([names]) => names.join('.'))
      .filter((name) => !rows.some((row) => `.${name}`.endsWith(`.${row}`)));
    expect(bare).toEqual([]);
  },
);

test.each(['machine', 'material', 'job'] as const)(
  'every text of a %s file has a greatest length',
  (what) => {
    const open = leavesOf(FILES[what])
      .filter(([, n]) => n.type === 'string' && n.const === undefined && n.enum === undefined)
      .filter(([, n]) => n.maxLength === undefined && !/^\^\[[A-Z]+\]\$$/.test(n.pattern ?? ''))
      .map(([names]) => names.join('.'));
    expect(open).toEqual([]);
  },
);

test('a text that is too long is refused with value and limit', () => {
  const fault = faultOf(() => readMachine(ac((j) => (j.name = 'n'.repeat(15e6)))));
  expect(fault.message).toMatch(
    /^name must have at most 200 characters, got "n+\.\.\." of 15,000,000 characters \[.*\]$/,
  );
});

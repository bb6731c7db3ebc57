/** Machine and material files that must be refused, each with its code and with what is wrong. */
import { describe, expect, it } from 'vitest';
import { Fault } from '../../lib/base/fault.js';
import { readMachine, readMaterial } from '../../lib/machine/read-files.js';
import { acJson, headHeadJson, rotary } from './machines.js';

/* eslint-disable @typescript-eslint/no-explicit-any -- broken on purpose */
/** The first machine as plain JSON, changed in place. */
function changed(change: (json: any) => void): unknown {
  const json = JSON.parse(JSON.stringify(acJson())) as unknown;
  change(json);
  return json;
}

function faultOf(work: () => unknown): Fault {
  try {
    work();
  } catch (error) {
    if (error instanceof Fault) return error;
    throw error;
  }
  throw new Error('was accepted');
}

const CASES: [string, (json: any) => void, string, RegExp][] = [
  [
    'a rotary joint left out',
    (j) => j.table.joints.pop(),
    'machine/joint-missing',
    /1 \(A\).*needs 2.*one of B C/,
  ],
  [
    'a linear joint left out',
    (j) => j.head.joints.pop(),
    'machine/joint-missing',
    /2 \(X Y\).*needs 3.*Z/,
  ],
  [
    'no joints',
    (j) => ((j.head.joints = []), (j.table.joints = [])),
    'machine/joint-missing',
    /X Y Z/,
  ],
  [
    'a third rotary joint',
    (j) => j.head.joints.push(rotary('B', [0, 1, 0], [-9, 9])),
    'machine/joint-count',
    /limit is 2/,
  ],
  [
    'two joints of one letter',
    (j) => (j.head.joints[1].letter = 'X'),
    'machine/letter-clash',
    /letter X/,
  ],
  [
    'the filament letter of a joint',
    (j) => (j.dialect.filament.letter = 'A'),
    'machine/letter-clash',
    /metered by A/,
  ],
  [
    'linear joints in a plane',
    (j) => (j.head.joints[2].axis = [1, 1, 0]),
    'machine/linear-span',
    /X Y Z.*span/,
  ],
  [
    'parallel rotary axes',
    (j) => (j.table.joints[1].axis = [2, 0, 0]),
    'machine/parallel-axes',
    /A and C/,
  ],
  ['a zero axis', (j) => (j.table.joints[0].axis = [0, 0, 0]), 'machine/zero-axis', /joint A/],
  ['a falling head outline', (j) => (j.head.stack[1].above = 40), 'machine/stack', /40 mm to 8 mm/],
  [
    'an outline off the tip',
    (j) => (j.head.stack[0].above = 2),
    'machine/stack',
    /2 mm above the tip/,
  ],
  [
    'a turn limit on a limited joint',
    (j) => (j.table.joints[0].turns = 2),
    'machine/turns',
    /-120 to 120 deg/,
  ],
  [
    'an obstacle on no joint',
    (j) =>
      (j.obstacles = [
        { name: 'yoke', carriedBy: 'B', solid: { shape: 'box', from: [0, 0, 0], to: [1, 1, 1] } },
      ]),
    'machine/unknown-joint',
    /"yoke".*B/,
  ],
  [
    'a box inside out',
    (j) =>
      (j.obstacles = [
        {
          name: 'yoke',
          carriedBy: 'frame',
          solid: { shape: 'box', from: [0, 5, 0], to: [1, 1, 1] },
        },
      ]),
    'machine/box',
    /along Y from 5 mm to 1 mm/,
  ],
  [
    'a tip narrower than its bore',
    (j) => (j.nozzle.flat = 0.2),
    'machine/nozzle',
    /0.2 mm.*0.4 mm/,
  ],
  [
    'an unknown name in the start text',
    (j) => j.dialect.start.push('M900 {nozzleTemp}'),
    'machine/unknown-name',
    /nozzleTemperature/,
  ],
  [
    'a ready value beyond the travel',
    (j) => (j.ready = { A: 130 }),
    'machine/ready',
    /130 deg.*-120 to 120 deg/,
  ],
  [
    'a ready value for no joint',
    (j) => (j.ready = { B: 1 }),
    'machine/unknown-joint',
    /no joint B/,
  ],
  ['a misspelt key', (j) => (j.obstacels = []), 'machine/unknown-key', /"obstacles"/],
  [
    'a travel backwards',
    (j) => (j.head.joints[0].travel = [5, -5]),
    'machine/bad-value',
    /less than the second/,
  ],
  ['not an object', () => undefined, 'machine/bad-value', /./],
];

describe('refused', () => {
  it.each(CASES)('%s', (name, change, code, message) => {
    const fault = faultOf(() =>
      readMachine(name === 'not an object' ? 'x' : changed(change), 'm.json'),
    );
    expect(fault.code).toBe(code);
    expect(fault.message).toMatch(message);
    expect(fault.at?.file).toBe('m.json');
  });

  it('a head that only spins about its own axis', () => {
    const json = headHeadJson();
    json.head.joints.reverse();
    const fault = faultOf(() =>
      readMachine({
        ...json,
        head: {
          ...json.head,
          joints: [
            ...json.head.joints.slice(2),
            rotary('A', [1, 0, 0], [-9, 9]),
            rotary('C', [0, 0, 1], 'endless'),
          ],
        },
      }),
    );
    expect(fault.code).toBe('machine/idle-axis');
  });

  it('a material whose flow range is empty', () => {
    const material = {
      name: 'm',
      density: 1.24,
      nozzleTemperature: 210,
      tableTemperature: 60,
      fan: 1,
      leastLayerSeconds: 5,
    };
    expect(faultOf(() => readMaterial({ ...material, flow: { least: 9, most: 3 } })).code).toBe(
      'material/bad-value',
    );
    expect(readMaterial({ ...material, flow: { least: 0.2, most: 9 } }).retract.length).toBe(1);
  });
});

it('degrees become radians, and the axis a unit vector in the sense of what is carried', () => {
  const machine = readMachine(
    changed((j) => ((j.positive = 'tool'), (j.table.joints[0].axis = [3, 0, 0]))),
  );
  const a = machine.joints[3]!;
  expect(a.axis[0]).toBe(-1);
  expect(a.least).toBeCloseTo((-120 * Math.PI) / 180, 12);
  expect(a.speed).toBeCloseTo(Math.PI / 2, 12);
  expect(machine.joints[4]!.most).toBe(Infinity);
});

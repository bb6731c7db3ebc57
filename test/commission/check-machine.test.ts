/**
 * The check of a machine file: room for a part against closed forms, and faults that are planted in a sound
 * file, each to be found under its own code and nowhere in the sound one.
 */
import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { checkMachine } from '../../lib/commission/check-machine.js';
import { partRoom } from '../../lib/commission/part-room.js';
import { readMachine } from '../../lib/machine/read-files.js';

/* eslint-disable @typescript-eslint/no-explicit-any -- broken on purpose */
const sample = (name: string): any =>
  JSON.parse(readFileSync(new URL(`../../samples/machines/${name}.json`, import.meta.url), 'utf8'));
const DEG = Math.PI / 180;

describe('room for a part', () => {
  const machine = readMachine(sample('table-table-ac'));

  test('upright, X and Y of +-160 mm leave 320 mm', () => {
    expect(partRoom(machine, 0, 80).across).toBeCloseTo(320, 9);
  });

  // A table tilted by t about an axis 6 mm over its face holds a point p, seen along the head's direction d, at
  // the height 6 + (p - (0, 0, 6)) . d = 6 + p . d - 6 cos t (a turn keeps lengths). Over a cylinder p . d goes
  // from -r sin t to r sin t + h cos t, and Z travels from -60 to 260 mm.
  test.each([45, 60, 75, 90])(
    'tilted by %i deg, Z leaves what the height of a turned point says',
    (t) => {
      const [s, c] = [Math.sin(t * DEG), Math.cos(t * DEG)];
      for (const h of [10, 80, 150]) {
        const over = 260 - 6 + 6 * c - h * c;
        const under = 6 - 6 * c + 60;
        const expected = Math.min(320, (2 * Math.min(over, under)) / s);
        const room = partRoom(machine, t * DEG, h);
        // Across, Y moves as well: the point swings out by at most the part's own reach.
        if (room.endedBy === machine.joints.findIndex((j) => j.letter === 'Z'))
          expect(room.across).toBeCloseTo(expected, 6);
        else expect(room.across).toBeLessThan(expected);
      }
      expect(machine.joints[partRoom(machine, t * DEG, 10).endedBy]!.letter).toBe('Z');
    },
  );

  test('beyond the reach there is none, and no joint is blamed', () => {
    expect(partRoom(machine, 120 * DEG, 10)).toMatchObject({ across: 0, endedBy: -1 });
  });
});

/** Codes that say that something is wrong or worth a look. */
const codesOf = (json: any, part?: [number, number, number]): string[] => [
  ...new Set(
    checkMachine(readMachine(json), { part, guessed: json.guessed })
      .filter((f) => f.severity !== 'note')
      .map((f) => f.code),
  ),
];

describe('planted faults', () => {
  test.each(['table-table-ac', 'table-table-bc', 'head-table'])('%s is sound', (name) => {
    // A head that tilts over a low table does reach it no longer; that is told with the room.
    expect(codesOf(sample(name), [30, 30, 20]).filter((c) => c !== 'machine/part-room')).toEqual(
      [],
    );
  });

  const A = (j: any): any => j.table.joints[0];
  const C = (j: any): any => j.table.joints[1];
  const Z = (j: any): any => j.head.joints[0];
  const planted: [string, (j: any) => void, string, RegExp][] = [
    ['a digit too many', (j) => (A(j).speed = 900), 'machine/drive-speed', /A is to go 900 deg\/s/],
    [
      'mm/min for mm/s',
      (j) => (Z(j).speed = 900),
      'machine/drive-speed',
      /Z is to go 900 mm\/s.*screw is 120 mm\/s/,
    ],
    [
      'an acceleration of another unit',
      (j) => (C(j).acceleration = 25),
      'machine/time-to-speed',
      /C .* after 7\.2 s/,
    ],
    [
      'a short travel',
      (j) => (Z(j).travel = [239, 241]),
      'machine/speed-unreached',
      /Z needs 3 mm.*travel is 2 mm/,
    ],
    ['a ready place in the table', (j) => (j.ready.Z = -4), 'machine/ready-low', /stands -4 mm/],
    [
      'a floor under which the cradle does not turn',
      (j) => (j.obstacles[6].solid.to[2] = -64),
      'machine/meets-in-travel',
      /A can go to .* deg/,
    ],
    [
      'a lamp where the head stands ready',
      (j) => (j.obstacles[6].solid = { shape: 'box', from: [-10, -10, 260], to: [10, 10, 300] }),
      'machine/ready-meets',
      /the head is nearer than 1 mm to "frame floor"/,
    ],
    [
      'letters of X and Y mixed up',
      (j) => {
        j.head.joints[1].letter = 'X';
        j.head.joints[2].letter = 'Y';
      },
      'machine/letter-axis',
      /joint X goes along the machine's Y/,
    ],
    [
      'a turning axis that hardly tilts',
      (j) => {
        C(j).axis = [0.95, 0, 0.3];
      },
      'machine/near-parallel',
      /17\.5 deg from parallel/,
    ],
    [
      'a crooked gantry',
      (j) => (j.head.joints[2].axis = [1, 0.2, 0]),
      'machine/not-square',
      /11\.3 deg from square/,
    ],
    [
      'start lines without a zero of C',
      (j) => (j.dialect.start = ['M101 P{nozzleTemperature}']),
      'machine/no-home',
      /none of the 1 start lines/,
    ],
    [
      'a guess',
      (j) => (j.guessed = { 'head.joints.0.speed': 'usual for a screw' }),
      'machine/guess',
      /head\.joints\.0\.speed is assumed: usual for a screw/,
    ],
  ];
  test.each(planted)('%s', (_, plant, code, words) => {
    const json = sample('table-table-ac');
    plant(json);
    const found = checkMachine(readMachine(json), { part: [30, 30, 20], guessed: json.guessed });
    expect(
      found
        .filter((f) => f.code === code)
        .map((f) => f.message)
        .join('\n'),
    ).toMatch(words);
  });

  test('a part that is too large is told with what ends it', () => {
    const found = checkMachine(readMachine(sample('table-table-bc')), { part: [60, 60, 60] });
    const lines = found.filter((f) => f.code === 'machine/part-room' && f.severity === 'warning');
    expect(lines.map((f) => f.message)).toContainEqual(
      expect.stringMatching(/^tilt 90 deg: .*asked are 84\.9 mm; Z \(-40 to 240 mm\) ends it/),
    );
  });

  test('a guess about what is not there is refused', () => {
    const json = { ...sample('table-table-ac'), guessed: { 'head.joints.9.speed': 'none' } };
    expect(() => readMachine(json)).toThrow(/"guessed" names "head\.joints\.9\.speed"/);
  });
});

/**
 * A machine file from answers: what was answered of each joint is what the simulated machine of that file does
 * (test/support/wired-machine.ts, no code of lib), for every layout and sense; and bad answers are refused by name.
 */
import { describe, expect, test } from 'vitest';
import {
  completeAnswers,
  flagOf,
  nextQuestion,
  readAnswer,
  readAnswers,
} from '../../lib/commission/answers.js';
import { machineFromAnswers } from '../../lib/commission/machine-from-answers.js';
import { QUESTIONS } from '../../lib/commission/questions.js';
import { readMachine } from '../../lib/machine/read-files.js';
import { whatIsSeen } from '../support/wired-machine.js';

/* eslint-disable @typescript-eslint/no-explicit-any -- plain JSON */
const cradle = (): Record<string, unknown> => ({
  layout: 'table-table',
  tiltAxis: 'x',
  tableSlides: 'none',
  xTravel: [-160, 160],
  xRises: 'right',
  yTravel: '-160, 160',
  yRises: 'far',
  zTravel: [-60, 260],
  zRises: 'up',
  tiltTravel: [-100, 100],
  tiltRises: 'near edge down',
  tiltHeight: 6,
  turnTravel: 'endless',
  turnTurns: 'free',
  turnRises: 'counter-clockwise',
  tableShape: 'disc',
  tableSize: 160,
});

const fileOf = (given: Record<string, unknown>): any =>
  JSON.parse(JSON.stringify(machineFromAnswers(completeAnswers(readAnswers(given)))));

/** What is seen when a joint rises from zero, in the words of the answers. */
const seen = (file: any, letter: string): string =>
  whatIsSeen({ ...file }, {}, { [letter]: 10 }).replace(
    /^the (table's|table|head|top of the head) /,
    '',
  );

const SEEN_OF: Record<string, string> = {
  right: 'goes right',
  left: 'goes left',
  far: 'goes away from you',
  near: 'comes towards you',
  up: 'goes up',
  down: 'goes down',
  'near edge down': 'near edge goes down',
  'near edge up': 'far edge goes down',
  'right edge down': 'right edge goes down',
  'right edge up': 'left edge goes down',
  'top leans near': 'leans towards you',
  'top leans far': 'leans away from you',
  'top leans right': 'leans right',
  'top leans left': 'leans left',
  'counter-clockwise': 'turns counter-clockwise',
  clockwise: 'turns clockwise',
};

describe('every joint moves as it was answered', () => {
  const tilts = {
    'table-table': {
      x: ['near edge down', 'near edge up'],
      y: ['right edge down', 'right edge up'],
    },
    'head-table': {
      x: ['top leans near', 'top leans far'],
      y: ['top leans right', 'top leans left'],
    },
    'head-head': {
      x: ['top leans near', 'top leans far'],
      y: ['top leans right', 'top leans left'],
    },
  } as const;
  const cases = Object.entries(tilts).flatMap(([layout, by]) =>
    (['x', 'y'] as const).flatMap((tiltAxis) =>
      by[tiltAxis].flatMap((tiltRises, i) =>
        ['none', 'y', 'xz'].map((tableSlides) => ({
          layout,
          tiltAxis,
          tiltRises,
          tableSlides,
          other: i === 1,
        })),
      ),
    ),
  );
  test.each(cases)('$layout, tilt along $tiltAxis, $tiltRises, table on $tableSlides', (c) => {
    const senses = {
      xRises: c.other ? 'left' : 'right',
      yRises: c.other ? 'near' : 'far',
      zRises: c.other ? 'down' : 'up',
      turnRises: c.other ? 'clockwise' : 'counter-clockwise',
    };
    const { other: _, ...answers } = c;
    const file = fileOf({ ...cradle(), ...answers, ...senses, tiltHeight: 60 });
    expect(readMachine(file).joints).toHaveLength(5);
    const letters = { X: senses.xRises, Y: senses.yRises, Z: senses.zRises, C: senses.turnRises };
    for (const [letter, answer] of Object.entries({
      ...letters,
      [c.tiltAxis === 'x' ? 'A' : 'B']: c.tiltRises,
    })) {
      expect(seen(file, letter), letter).toBe(SEEN_OF[answer]);
    }
    // What a slide carries is what was answered.
    const carriers = file.table.joints
      .filter((j: any) => j.kind === 'linear')
      .map((j: any) => j.letter.toLowerCase());
    expect(carriers.sort().join('')).toBe(c.tableSlides === 'none' ? '' : c.tableSlides);
  });
});

describe('what nobody has said', () => {
  test('is listed as guessed under keys that are there, each with where it is from', () => {
    const file = fileOf(cradle());
    // Reading refuses a guess about a key that does not exist.
    expect(readMachine(file).doubts.map((d) => d.code)).toContain('machine/guessed');
    for (const [key, from] of Object.entries(file.guessed)) {
      const value = key.split('.').reduce((at: any, k) => at[k], file);
      expect(value, key).toBeDefined();
      expect(from).toMatch(
        /common practice, no source|tiltwright|RS-274|nothing homes|zero of all joints|inverse time|far end/,
      );
    }
  });

  test('is not asked twice: with every answer given nothing is guessed but the ready place', () => {
    const all = completeAnswers(readAnswers(cradle())).answers;
    const file = fileOf({ ...all });
    expect(Object.keys(file.guessed)).toEqual(['ready']);
    expect(nextQuestion(readAnswers({ ...all }), new Set())).toBeUndefined();
  });

  test('a terminal asks what cannot be guessed and what matters, in the order of the table', () => {
    const answers: any = {};
    const asked: string[] = [];
    for (
      let q = nextQuestion(answers, new Set(asked));
      q;
      q = nextQuestion(answers, new Set(asked))
    ) {
      asked.push(q.key);
      const given = cradle()[q.key];
      if (given === undefined) continue;
      const read = readAnswer(q, given, answers);
      answers[q.key] = (read as any).answer;
    }
    expect(asked).toEqual(expect.arrayContaining(Object.keys(cradle())));
    expect(asked).toEqual(
      expect.arrayContaining(['name', 'slideSpeed', 'nozzleDiameter', 'rotaryFeed']),
    );
    expect(asked).not.toContain('tableThickness');
    const order = QUESTIONS.map((q) => q.key).filter((k) => asked.includes(k));
    expect(asked).toEqual(order);
  });

  test('flags are the keys in small letters', () => {
    expect(flagOf('tipAtZero')).toBe('tip-at-zero');
    expect(new Set(QUESTIONS.map((q) => flagOf(q.key))).size).toBe(QUESTIONS.length);
  });
});

describe('bad answers', () => {
  const cases: [string, (a: any) => void, string, RegExp][] = [
    [
      'a kind of machine that there is not',
      (a) => (a.layout = 'delta'),
      'machine/bad-answer',
      /layout: one of "table-table".*got delta/,
    ],
    [
      'an unknown answer',
      (a) => (a.tiltHight = 6),
      'machine/unknown-answer',
      /tiltHight.*did you mean "tiltHeight"/,
    ],
    ['an answer of an older kind', (a) => (a.version = 1), 'machine/unknown-answer', /"version"/],
    [
      'the words of a head for a table',
      (a) => (a.tiltRises = 'top leans near'),
      'machine/bad-answer',
      /tiltRises: one of "near edge down"/,
    ],
    [
      'a letter of another axis',
      (a) => (a.tiltLetter = 'B'),
      'machine/bad-answer',
      /tiltLetter is B, but an axis along X is A \(ISO 841\)/,
    ],
    [
      'letters of tilt and turn exchanged',
      (a) => {
        a.tiltLetter = 'C';
        a.turnLetter = 'A';
      },
      'machine/bad-answer',
      /mixed up/,
    ],
    [
      'one letter twice',
      (a) => {
        a.tiltLetter = 'U';
        a.turnLetter = 'U';
      },
      'machine/bad-answer',
      /both U/,
    ],
    [
      'a travel turned round',
      (a) => (a.xTravel = [160, -160]),
      'machine/bad-answer',
      /xTravel: 2 numbers from -2000 to 2000 mm, the first the lesser/,
    ],
    [
      'a travel in metres of a thousand times',
      (a) => (a.zTravel = [-60, 260000]),
      'machine/bad-answer',
      /zTravel: .*2000 mm/,
    ],
    ['one end of a travel', (a) => (a.yTravel = '160'), 'machine/bad-answer', /yTravel: 2 numbers/],
    [
      'an exponent',
      (a) => (a.tiltHeight = '6e0'),
      'machine/bad-answer',
      /tiltHeight: a number from -500 to 1000 mm.*got 6e0/,
    ],
    [
      'a cable on a joint that has ends',
      (a) => {
        a.turnTravel = [-180, 180];
      },
      'machine/bad-answer',
      /turnTurns: this question does not arise/,
    ],
    [
      'an endless joint without its cable',
      (a) => {
        delete a.turnTurns;
      },
      'machine/answer-missing',
      /turnTurns is not answered: How many turns/,
    ],
    [
      'a disc with two sizes',
      (a) => (a.tableSize = [160, 120]),
      'machine/bad-answer',
      /tableSize has two numbers/,
    ],
    [
      'a rectangle with one',
      (a) => (a.tableShape = 'rectangle'),
      'machine/bad-answer',
      /tableSize has one number/,
    ],
    [
      'a flat less than the bore',
      (a) => {
        a.nozzleDiameter = 0.8;
        a.nozzleFlat = 0.5;
      },
      'machine/bad-answer',
      /nozzleFlat is 0.5 mm/,
    ],
    [
      'filament by the letter of a joint',
      (a) => {
        a.tiltLetter = 'U';
        a.filamentLetter = 'U';
      },
      'machine/bad-answer',
      /filamentLetter is U/,
    ],
    [
      'a start line of two lines',
      (a) => (a.startLines = ['G28\nM104']),
      'machine/bad-answer',
      /startLines: lines of a program/,
    ],
    [
      'a brace that nothing fills',
      (a) => (a.startLines = ['M104 S{heat}']),
      'machine/unknown-name',
      /\{heat\}/,
    ],
  ];
  test.each(cases)('%s', (_, change, code, words) => {
    const answers = cradle();
    change(answers);
    let fault: any;
    try {
      readMachine(fileOf(answers));
    } catch (error) {
      fault = error;
    }
    expect(fault?.code).toBe(code);
    expect(fault.message).toMatch(words);
    expect(fault.message).not.toContain('\n');
  });

  test('all that is missing is told at once', () => {
    const { layout, tiltAxis, tableSlides } = cradle();
    let problems: any[] = [];
    try {
      fileOf({ layout, tiltAxis, tableSlides });
    } catch (error) {
      problems = [...(error as any).problems];
    }
    expect(problems.map((p) => p.message.split(' ')[0])).toEqual(
      expect.arrayContaining(['xTravel', 'xRises', 'tiltTravel', 'tiltRises', 'turnTravel']),
    );
  });
});

/**
 * The questions about a new machine, in the words of the trade: one table from which a terminal asks, flags are
 * made and an answers file is read. What has a guess can be left out; a guess without a source is no measure and
 * needs none (a name, a letter). Everything is said as an operator sees it who stands on the side of Y- and looks
 * towards Y+, with X+ on the right, and as the part that the joint carries moves when the joint's value rises.
 */
/** One answer: a choice or text, a number, numbers, or lines of a program. */
export type MachineAnswer = string | number | readonly number[] | readonly string[];
/** Answers about a new machine by the keys of their questions. */
export type Answers = Readonly<Record<string, MachineAnswer>>;

export type AnswerKind =
  | { readonly is: 'choice'; readonly of: (before: Answers) => readonly string[] }
  | { readonly is: 'text'; readonly most: number }
  | { readonly is: 'letter'; readonly of: readonly string[] }
  | { readonly is: 'lines' }
  | {
      readonly is: 'numbers';
      /** How many numbers an answer may have. */
      readonly counts: readonly number[];
      readonly limits: readonly [number, number];
      readonly unit: string;
      readonly rising?: boolean;
      /** A word that may stand in place of numbers. */
      readonly word?: string;
    };

export interface Question {
  readonly key: string;
  readonly text: (before: Answers) => string;
  readonly kind: AnswerKind;
  /** Left out: it arises always. */
  readonly when?: (before: Answers) => boolean;
  /** What is taken if nobody answers; `from` says where it is from, and is left out for what is no measure. */
  readonly guess?: (before: Answers) => { readonly value: MachineAnswer; readonly from?: string };
  /** True if a terminal asks it although it has a guess. */
  readonly asked?: boolean;
  /** True if later questions cannot be asked without it. */
  readonly leads?: boolean;
}

const PRACTICE = 'common practice, no source';

const choice = (...of: readonly string[]): AnswerKind => ({ is: 'choice', of: () => of });
const numbers = (
  unit: string,
  limits: readonly [number, number],
  more: { counts?: readonly number[]; rising?: boolean; word?: string } = {},
): AnswerKind => ({ is: 'numbers', counts: [1], unit, limits, ...more });
const range = (unit: string, most: number, word?: string): AnswerKind =>
  numbers(unit, [-most, most], { counts: [2], rising: true, ...(word ? { word } : {}) });
const said =
  (text: string): Question['text'] =>
  () =>
    text;
const assume =
  (value: MachineAnswer, from: string): NonNullable<Question['guess']> =>
  () => ({ value, from });

/** True if the tilting joint carries the table. */
export const tableTilts = ({ layout }: Answers): boolean => layout === 'table-table';
/** True if the turning joint carries the table. */
export const tableTurns = ({ layout }: Answers): boolean => layout !== 'head-head';
/** What one of X Y Z carries. */
export const carried = ({ tableSlides }: Answers, letter: string): 'head' | 'table' =>
  String(tableSlides).includes(letter.toLowerCase()) ? 'table' : 'head';

/** For each sense of the tilt what is seen, the right-handed one about +X or +Y first. */
export function tiltSenses(before: Answers): readonly [string, string] {
  const alongX = before['tiltAxis'] === 'x';
  if (tableTilts(before)) {
    return alongX ? ['near edge down', 'near edge up'] : ['right edge down', 'right edge up'];
  }
  return alongX ? ['top leans near', 'top leans far'] : ['top leans right', 'top leans left'];
}

export const LINEAR = [
  { letter: 'X', ways: ['right', 'left'], about: 'to the right or to the left' },
  { letter: 'Y', ways: ['far', 'near'], about: 'away from you (far) or towards you (near)' },
  { letter: 'Z', ways: ['up', 'down'], about: 'up or down' },
] as const;

/** Longest travels and sizes that are taken without asking back, mm and deg. */
const LONGEST = 2000;
const MOST_JOINT_TURN = 3600;

export const QUESTIONS: readonly Question[] = [
  {
    key: 'layout',
    text: said(
      'What turns what: "table-table" (a cradle tilts, and the table turns in it), "head-table" (the head tilts, the table turns), "head-head" (the head turns and tilts)?',
    ),
    kind: choice('table-table', 'head-table', 'head-head'),
    leads: true,
  },
  {
    key: 'tiltAxis',
    text: said(
      'Along which direction does the tilting axis lie: x (left to right) or y (near to far)?',
    ),
    kind: choice('x', 'y'),
    leads: true,
  },
  {
    key: 'tableSlides',
    text: said('Which of the slides X, Y and Z carry the table (the others carry the head)?'),
    kind: choice('none', 'x', 'y', 'z', 'xy', 'xz', 'yz', 'xyz'),
    leads: true,
  },
  {
    key: 'name',
    text: said('What is the machine called in programs and reports?'),
    kind: { is: 'text', most: 200 },
    guess: ({ layout }) => ({ value: `new machine, ${String(layout)}` }),
    asked: true,
  },
  {
    key: 'tiltLetter',
    text: said('By which letter does the controller know the tilting joint?'),
    kind: { is: 'letter', of: ['A', 'B', 'C', 'U', 'V', 'W'] },
    guess: ({ tiltAxis }) => ({ value: tiltAxis === 'x' ? 'A' : 'B' }),
    asked: true,
  },
  {
    key: 'turnLetter',
    text: said('By which letter does the controller know the turning joint?'),
    kind: { is: 'letter', of: ['A', 'B', 'C', 'U', 'V', 'W'] },
    guess: () => ({ value: 'C' }),
    asked: true,
  },
  ...LINEAR.flatMap(({ letter, ways, about }): Question[] => [
    {
      key: `${letter.toLowerCase()}Travel`,
      text: (a) =>
        `Between which values may ${letter}, which carries the ${carried(a, letter)}, travel (least, most), mm?`,
      kind: range('mm', LONGEST),
    },
    {
      key: `${letter.toLowerCase()}Rises`,
      text: (a) => `When ${letter} rises, does the ${carried(a, letter)} go ${about}?`,
      kind: choice(...ways),
    },
  ]),
  {
    key: 'tiltTravel',
    text: said('Between which values may the tilting joint travel (least, most), deg?'),
    kind: range('deg', MOST_JOINT_TURN),
  },
  {
    key: 'tiltRises',
    text: (a) =>
      `When the tilting joint rises from 0, what is seen of the ${tableTilts(a) ? 'table' : 'head'}: "${tiltSenses(a).join('" or "')}"?`,
    kind: { is: 'choice', of: tiltSenses },
  },
  {
    key: 'tiltHeight',
    text: (a) =>
      tableTilts(a)
        ? 'How high over the table face does the tilting axis run (negative: under it), mm?'
        : 'How high over the tip of the nozzle does the tilting axis run, mm?',
    kind: numbers('mm', [-500, 1000]),
  },
  {
    key: 'turnTravel',
    text: said(
      'Between which values may the turning joint travel (least, most), deg, or is it "endless"?',
    ),
    kind: range('deg', MOST_JOINT_TURN, 'endless'),
    leads: true,
  },
  {
    key: 'turnTurns',
    text: said(
      'How many turns either way from 0 does its cable allow, or is it "free" (slip rings, no cable)?',
    ),
    kind: numbers('turns', [0.1, 1000], { word: 'free' }),
    when: ({ turnTravel }) => turnTravel === 'endless',
  },
  {
    key: 'turnRises',
    text: (a) =>
      `When the turning joint rises, does the ${tableTurns(a) ? 'table' : 'head'} turn clockwise or counter-clockwise, seen from above?`,
    kind: choice('counter-clockwise', 'clockwise'),
  },
  {
    key: 'tableShape',
    text: said('Is the table a disc or a rectangle?'),
    kind: choice('disc', 'rectangle'),
    leads: true,
  },
  {
    key: 'tableSize',
    text: ({ tableShape }) =>
      tableShape === 'disc'
        ? 'What is the diameter of the face on which parts may stand, mm?'
        : 'How long is the face along X and along Y, mm?',
    kind: numbers('mm', [10, LONGEST], { counts: [1, 2] }),
  },
  {
    key: 'tableThickness',
    text: said('How thick is the table under its face, mm?'),
    kind: numbers('mm', [0.5, 200]),
    guess: assume(8, `a plate as is usual, ${PRACTICE}`),
  },
  {
    key: 'tiltAside',
    text: (a) =>
      `How far does the tilting axis run beside the ${tableTilts(a) ? 'turning axis' : 'tip'}, towards Y+ (or X+ for an axis along Y), mm?`,
    kind: numbers('mm', [-500, 500]),
    guess: assume(
      0,
      'the axis as it is meant to run; tiltwright machine prove and calibrate find where it does',
    ),
  },
  {
    key: 'tipAtZero',
    text: said(
      'Where does the tip stand over the middle of the table with all joints at 0 (X, Y, Z), mm?',
    ),
    kind: numbers('mm', [-LONGEST, LONGEST], { counts: [3] }),
    guess: assume(
      [0, 0, 0],
      'zero of all joints is where the tip touches the middle of the level table',
    ),
  },
  {
    key: 'slideSpeed',
    text: said('How fast may X and Y go, mm/s?'),
    kind: numbers('mm/s', [1, 1000]),
    guess: assume(120, `careful for a belt, ${PRACTICE}`),
    asked: true,
  },
  {
    key: 'liftSpeed',
    text: said('How fast may Z go, mm/s?'),
    kind: numbers('mm/s', [0.5, 500]),
    guess: assume(12, `careful for a screw, ${PRACTICE}`),
    asked: true,
  },
  {
    key: 'tiltSpeed',
    text: said('How fast may the tilting joint turn, deg/s?'),
    kind: numbers('deg/s', [0.5, 1000]),
    guess: assume(30, `careful for a cradle or fork, ${PRACTICE}`),
    asked: true,
  },
  {
    key: 'turnSpeed',
    text: said('How fast may the turning joint turn, deg/s?'),
    kind: numbers('deg/s', [0.5, 2000]),
    guess: assume(60, `careful for a table, ${PRACTICE}`),
    asked: true,
  },
  {
    key: 'slideAcceleration',
    text: said('How hard may X and Y speed up, mm/s2?'),
    kind: numbers('mm/s2', [10, 20_000]),
    guess: assume(1000, `careful for a belt, ${PRACTICE}`),
  },
  {
    key: 'liftAcceleration',
    text: said('How hard may Z speed up, mm/s2?'),
    kind: numbers('mm/s2', [5, 5000]),
    guess: assume(150, `careful for a screw, ${PRACTICE}`),
  },
  {
    key: 'tiltAcceleration',
    text: said('How hard may the tilting joint speed up, deg/s2?'),
    kind: numbers('deg/s2', [5, 10_000]),
    guess: assume(120, `careful for a cradle or fork, ${PRACTICE}`),
  },
  {
    key: 'turnAcceleration',
    text: said('How hard may the turning joint speed up, deg/s2?'),
    kind: numbers('deg/s2', [5, 10_000]),
    guess: assume(240, `careful for a table, ${PRACTICE}`),
  },
  {
    key: 'nozzleDiameter',
    text: said('What is the bore of the nozzle, mm?'),
    kind: numbers('mm', [0.1, 2]),
    guess: assume(0.4, `the usual bore, ${PRACTICE}`),
    asked: true,
  },
  {
    key: 'nozzleFlat',
    text: said('How wide is the flat face of its tip, mm?'),
    kind: numbers('mm', [0.1, 8]),
    guess: ({ nozzleDiameter }) => ({
      value: 2 * Number(nozzleDiameter),
      from: `twice the bore, ${PRACTICE}`,
    }),
  },
  {
    key: 'headRadius',
    text: said('How far does anything of the head (fans, carriage) reach from its axis, mm?'),
    kind: numbers('mm', [8, 300]),
    guess: assume(40, `a head that is drawn too large rather than too small, ${PRACTICE}`),
    asked: true,
  },
  {
    key: 'headHeight',
    text: said('How high is the head over the tip, mm?'),
    kind: numbers('mm', [25, 600]),
    guess: assume(110, `a head that is drawn too large rather than too small, ${PRACTICE}`),
  },
  {
    key: 'filamentDiameter',
    text: said('What is the diameter of the filament, mm?'),
    kind: numbers('mm', [1, 6]),
    guess: assume(1.75, `the usual diameter, ${PRACTICE}`),
    asked: true,
  },
  {
    key: 'clearance',
    text: said('How far is the head to keep from everything but its own bead, mm?'),
    kind: numbers('mm', [0.3, 20]),
    guess: assume(1.5, `for a machine that is not measured, ${PRACTICE}`),
  },
  {
    key: 'rotaryFeed',
    text: said(
      'How does the controller take the feed of blocks that turn: "g93" (inverse time) or "g94" (units a minute)?',
    ),
    kind: choice('g93', 'g94'),
    guess: assume(
      'g93',
      'inverse time is the mode that means the same on every controller that has it',
    ),
    asked: true,
  },
  {
    key: 'filamentLetter',
    text: said('By which letter is filament metered?'),
    kind: { is: 'letter', of: ['D', 'E', 'U', 'V', 'W', 'A', 'B', 'C'] },
    guess: () => ({ value: 'E' }),
  },
  {
    key: 'filamentMode',
    text: said(
      'Is filament metered "relative" (from the block before) or "absolute" (from the start)?',
    ),
    kind: choice('relative', 'absolute'),
    guess: assume('relative', PRACTICE),
    asked: true,
  },
  {
    key: 'nozzleLine',
    text: said(
      'Which line sets the temperature of the nozzle ({value} is filled in, deg C), or "none"?',
    ),
    kind: { is: 'text', most: 256 },
    guess: assume('none', 'none: programs whose first layer is printed hotter are refused'),
    asked: true,
  },
  {
    key: 'tableLine',
    text: said(
      'Which line sets the temperature of the table ({value} is filled in, deg C), or "none"?',
    ),
    kind: { is: 'text', most: 256 },
    guess: assume('none', 'none: programs whose first layer wants a hotter table are refused'),
    asked: true,
  },
  {
    key: 'startLines',
    text: said(
      'Which lines home and heat the machine before the first move ({nozzleTemperature} and {tableTemperature} are filled in)?',
    ),
    kind: { is: 'lines' },
    guess: assume([], 'none: nothing homes or heats the machine yet'),
  },
  {
    key: 'endLines',
    text: said('Which lines end a program?'),
    kind: { is: 'lines' },
    guess: assume(['M2'], 'RS-274: M2 ends a program; nothing switches the heaters off yet'),
  },
];

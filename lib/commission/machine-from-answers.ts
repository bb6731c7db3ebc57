/**
 * A machine file from answers. Each joint gets the axis along or about which what it carries moves when its value
 * rises, so the file states `"positive": "body"`. The chains are those of the three usual layouts: slides from the
 * frame outwards, then what tilts and turns. Values that nobody has given stand under `guessed`.
 */
import { Fault } from '../base/fault.js';
import type { MachineFile } from '../machine/machine.js';
import type { CompleteAnswers } from './answers.js';
import { type Answers, LINEAR, carried, tableTilts, tableTurns, tiltSenses } from './questions.js';

type JointFile = MachineFile['head']['joints'][number];
type Triple = [number, number, number];

/** What a machine file needs beyond the answers, each with what tells it. */
export const UNMEASURED: readonly string[] = [
  'signs, letters, order and places of the axes: "tiltwright machine prove" writes a program and a form that find what is wrong',
  'axis places and squareness to hundredths of a mm: "tiltwright calibrate plan --coarse", then "fit"',
  'play and stiffness of the joints: "tiltwright calibrate play"',
  'cradle, frame and what else the head could hit: draw them under "obstacles", for what is not in the file is not kept clear of',
  'motors, weights and friction: "drives", for "tiltwright drives"',
];

/**
 * The machine file that the answers describe, ready to be written as JSON.
 * @throws Fault `machine/bad-answer` for answers that contradict one another
 */
export function machineFromAnswers({ answers: a, assumed }: CompleteAnswers): object {
  checkTogether(a);
  const slides = ['Z', 'Y', 'X'].map((letter) => slide(a, letter));
  const of = (side: 'head' | 'table'): JointFile[] =>
    slides.filter(({ letter }) => carried(a, letter) === side);
  const [tilting, turning] = [tilt(a), turn(a)];
  const head = [
    ...of('head'),
    ...(tableTurns(a) ? [] : [turning]),
    ...(tableTilts(a) ? [] : [tilting]),
  ];
  const table = [
    ...of('table'),
    ...(tableTilts(a) ? [tilting] : []),
    ...(tableTurns(a) ? [turning] : []),
  ];
  const file = {
    name: text(a, 'name'),
    positive: 'body',
    head: { joints: head, tip: a['tipAtZero'], stack: outline(a) },
    table: {
      joints: table,
      origin: [0, 0, 0],
      face: face(a),
      thickness: number(a, 'tableThickness'),
    },
    ready: readyOf(a),
    obstacles: [],
    clearance: number(a, 'clearance'),
    nozzle: { diameter: number(a, 'nozzleDiameter'), flat: number(a, 'nozzleFlat') },
    filament: { diameter: number(a, 'filamentDiameter') },
    dialect: {
      rotaryFeed: text(a, 'rotaryFeed').toUpperCase(),
      filament: { letter: a['filamentLetter'], mode: a['filamentMode'] },
      start: a['startLines'],
      end: a['endLines'],
      ...(a['nozzleLine'] === 'none' ? {} : { nozzleTemperature: a['nozzleLine'] }),
      ...(a['tableLine'] === 'none' ? {} : { tableTemperature: a['tableLine'] }),
    },
  };
  return { ...file, guessed: guessesIn(a, head, table, assumed) };
}

const number = (a: Answers, key: string): number => a[key] as number;
const text = (a: Answers, key: string): string => a[key] as string;
const pair = (a: Answers, key: string): [number, number] => [
  ...(a[key] as readonly [number, number]),
];

/** ISO 841 names of turning axes along X, Y and Z. */
const ISO = { x: 'A', y: 'B', z: 'C' } as const;

function checkTogether(a: Answers): void {
  const refuse = (message: string): never => {
    throw new Fault('machine/bad-answer', message);
  };
  const [tilting, turning, metering] = ['tiltLetter', 'turnLetter', 'filamentLetter'].map((k) =>
    text(a, k),
  );
  if (tilting === turning)
    refuse(`tiltLetter and turnLetter are both ${tilting}; each joint has its own`);
  if (metering === tilting || metering === turning)
    refuse(`filamentLetter is ${metering}, which is the letter of a joint`);
  for (const [key, letter, along] of [
    ['tiltLetter', tilting, text(a, 'tiltAxis') as 'x' | 'y'],
    ['turnLetter', turning, 'z'],
  ] as const) {
    const right = ISO[along];
    if (letter !== right && Object.values<string>(ISO).includes(letter!)) {
      refuse(
        `${key} is ${letter}, but an axis along ${along.toUpperCase()} is ${right} (ISO 841): are two letters mixed up?`,
      );
    }
  }
  const size = a['tableSize'];
  if (a['tableShape'] === 'disc' && typeof size !== 'number')
    refuse('tableSize has two numbers, a disc has one diameter, mm');
  if (a['tableShape'] === 'rectangle' && typeof size === 'number')
    refuse('tableSize has one number, a rectangle has two, along X and Y, mm');
  if (number(a, 'nozzleFlat') < number(a, 'nozzleDiameter'))
    refuse(
      `nozzleFlat is ${a['nozzleFlat'] as number} mm, less than the bore of ${a['nozzleDiameter'] as number} mm`,
    );
}

function slide(a: Answers, letter: string): JointFile {
  const i = LINEAR.findIndex((l) => l.letter === letter);
  const key = letter.toLowerCase();
  const sense = a[`${key}Rises`] === LINEAR[i]!.ways[0] ? 1 : -1;
  const kind = letter === 'Z' ? 'lift' : 'slide';
  return {
    kind: 'linear',
    letter,
    axis: [0, 1, 2].map((c) => (c === i ? sense : 0)) as Triple,
    travel: pair(a, `${key}Travel`),
    speed: number(a, `${kind}Speed`),
    acceleration: number(a, `${kind}Acceleration`),
  } as JointFile;
}

function tilt(a: Answers): JointFile {
  const sense = text(a, 'tiltRises') === tiltSenses(a)[0] ? 1 : -1;
  const alongX = a['tiltAxis'] === 'x';
  const aside = number(a, 'tiltAside');
  // The axis of a table is told from the middle of its face, that of a head from the tip.
  const [x, y, z] = tableTilts(a) ? [0, 0, 0] : (a['tipAtZero'] as readonly number[]);
  return {
    kind: 'rotary',
    letter: text(a, 'tiltLetter'),
    axis: alongX ? [sense, 0, 0] : [0, sense, 0],
    point: [x! + (alongX ? 0 : aside), y! + (alongX ? aside : 0), z! + number(a, 'tiltHeight')],
    travel: pair(a, 'tiltTravel'),
    speed: number(a, 'tiltSpeed'),
    acceleration: number(a, 'tiltAcceleration'),
  } as JointFile;
}

function turn(a: Answers): JointFile {
  const endless = a['turnTravel'] === 'endless';
  const turns = endless && a['turnTurns'] !== 'free' ? { turns: number(a, 'turnTurns') } : {};
  return {
    kind: 'rotary',
    letter: text(a, 'turnLetter'),
    axis: [0, 0, a['turnRises'] === 'counter-clockwise' ? 1 : -1],
    point: tableTurns(a) ? [0, 0, 0] : [...(a['tipAtZero'] as readonly number[])],
    travel: endless ? 'endless' : pair(a, 'turnTravel'),
    ...turns,
    speed: number(a, 'turnSpeed'),
    acceleration: number(a, 'turnAcceleration'),
  } as JointFile;
}

const face = (a: Answers): object =>
  a['tableShape'] === 'disc'
    ? { shape: 'disc', radius: number(a, 'tableSize') / 2 }
    : { shape: 'rectangle', size: pair(a, 'tableSize') };

/** A nozzle, the block over it, and a cylinder as wide as the widest thing of the head. */
function outline(a: Answers): object[] {
  const [radius, height] = [number(a, 'headRadius'), number(a, 'headHeight')];
  const block = Math.min(12, radius);
  return [
    [0, number(a, 'nozzleFlat') / 2],
    [4, 3],
    [8, 4],
    [8, block],
    [18, block],
    [18, radius],
    [height, radius],
  ].map(([above, r]) => ({ above, radius: r }));
}

/** X, Y and the turning joints at 0 or the nearest they come to it, Z with the head as far off as it goes, less a tenth. */
function readyOf(a: Answers): Record<string, number> {
  const nearZero = ([least, most]: readonly [number, number]): number =>
    Math.min(Math.max(0, least), most);
  const [low, high] = pair(a, 'zTravel');
  // The head rises off the table, or the table sinks under the head.
  const away = (a['zRises'] === 'up') === (carried(a, 'Z') === 'head');
  const z = away ? high - (high - low) / 10 : low + (high - low) / 10;
  return {
    X: nearZero(pair(a, 'xTravel')),
    Y: nearZero(pair(a, 'yTravel')),
    Z: Number(z.toFixed(3)),
    [text(a, 'tiltLetter')]: nearZero(pair(a, 'tiltTravel')),
    [text(a, 'turnLetter')]: a['turnTravel'] === 'endless' ? 0 : nearZero(pair(a, 'turnTravel')),
  };
}

/** Keys of the file that each assumed answer fills. */
function guessesIn(
  a: Answers,
  head: readonly JointFile[],
  table: readonly JointFile[],
  assumed: CompleteAnswers['assumed'],
): Record<string, string> {
  const joint = (letter: string): string => {
    const i = head.findIndex((j) => j.letter === letter);
    return i >= 0
      ? `head.joints.${i}`
      : `table.joints.${table.findIndex((j) => j.letter === letter)}`;
  };
  const [x, y, z, tilting, turning] = [
    'X',
    'Y',
    'Z',
    text(a, 'tiltLetter'),
    text(a, 'turnLetter'),
  ].map(joint);
  const fills: Readonly<Record<string, readonly string[]>> = {
    tableThickness: ['table.thickness'],
    tiltAside: [`${tilting}.point`],
    tipAtZero: ['head.tip'],
    slideSpeed: [`${x}.speed`, `${y}.speed`],
    liftSpeed: [`${z}.speed`],
    tiltSpeed: [`${tilting}.speed`],
    turnSpeed: [`${turning}.speed`],
    slideAcceleration: [`${x}.acceleration`, `${y}.acceleration`],
    liftAcceleration: [`${z}.acceleration`],
    tiltAcceleration: [`${tilting}.acceleration`],
    turnAcceleration: [`${turning}.acceleration`],
    nozzleDiameter: ['nozzle.diameter'],
    nozzleFlat: ['nozzle.flat'],
    headRadius: ['head.stack'],
    headHeight: ['head.stack'],
    filamentDiameter: ['filament.diameter'],
    clearance: ['clearance'],
    rotaryFeed: ['dialect.rotaryFeed'],
    filamentMode: ['dialect.filament.mode'],
    // Lines that are not there have no key of their own.
    nozzleLine: [],
    tableLine: [],
    startLines: ['dialect.start'],
    endLines: ['dialect.end'],
  };
  const out: Record<string, string> = {};
  for (const [key, from] of Object.entries(assumed)) for (const k of fills[key]!) out[k] = from;
  out['ready'] = 'X, Y and the turning joints near 0, Z a tenth of its travel from its far end';
  return out;
}

/**
 * What somebody would find out about a machine file later, at the machine: room for a part at each tilt, what
 * meets when a joint goes through its travel, joints whose letters, speeds or homing look wrong, where the
 * turning joints become slow. Pure: from the record of the machine, one finding a line with value, limit and
 * unit. What contradicts itself is refused before, when the file is read (`readMachine`).
 */
import type { Finding, Severity } from '../base/fault.js';
import { DEG, type Vec3, angle, cross, dot, length, unit } from '../base/vector.js';
import { forward } from '../machine/forward.js';
import { rotaryPair } from '../machine/inverse.js';
import { jointsOf } from '../machine/joint-chain.js';
import type { Joint, Machine } from '../machine/machine.js';
import { type TiltReach, reachOf } from '../machine/reachable-directions.js';
import { speedFindings } from './joint-speeds.js';
import { type JointSweep, jointSweeps } from './joint-sweeps.js';
import { short, travelText, valueText } from './joint-words.js';
import { partRoom } from './part-room.js';

/** What a machine is checked for. */
export interface MachineQuestion {
  /** Size of the part that is to fit, mm: X, Y, Z as it stands; left out: half as wide and high as the table. */
  readonly part?: Vec3 | undefined;
  /** `guessed` of the machine file. */
  readonly guessed?: Readonly<Record<string, string>> | undefined;
}

/** Tilts at which room is looked for, deg, and the greatest that the machine reaches. */
const ROOM_STEP = 15;
/** Turning axes nearer to one another than this leave most directions out of reach, deg. */
const NEAR_PARALLEL = 30;
/** Linear joints farther from square than this are drawn so on purpose or by mistake, deg. */
const NOT_SQUARE = 5;
/** How fast the direction of the head changes on a rounded part in ordinary printing, deg/s: common practice. */
const DIRECTION_RATE = 10;

/**
 * What would be found out about a machine later, at the machine: room for a part at each tilt, what meets in the
 * travel, letters, speeds and homing that look wrong, guesses.
 * @param machine as `readMachine` gives it
 * @returns errors for what cannot work, warnings for what is worth a look, notes for what to know
 */
export function checkMachine(machine: Machine, question: MachineQuestion = {}): Finding[] {
  const reach = reachOf(machine);
  return [
    // The guesses follow one by one.
    ...machine.doubts.filter((d) => !question.guessed || d.code !== 'machine/guessed'),
    ...guessFindings(question.guessed),
    ...letterFindings(machine),
    ...axisFindings(machine),
    ...readyFindings(machine),
    ...meetingFindings(machine),
    ...homeFindings(machine),
    ...lineFindings(machine),
    ...speedFindings(machine),
    ...reachFindings(machine, reach),
    ...roomFindings(machine, reach, question.part),
  ];
}

const found = (code: string, severity: Severity, message: string): Finding => ({
  code,
  severity,
  message,
});

const guessFindings = (guessed: MachineQuestion['guessed'] = {}): Finding[] =>
  Object.entries(guessed).map(([key, from]) =>
    found('machine/guess', 'warning', `${key} is assumed: ${from}`),
  );

const MAIN: readonly (readonly [string, Vec3])[] = [
  ['X', [1, 0, 0]],
  ['Y', [0, 1, 0]],
  ['Z', [0, 0, 1]],
];
/** Letters of ISO 841: X Y Z along, A B C about the axes X Y Z; U V W a second set along them. */
const AXIS_ALONG: Readonly<Record<string, number>> = { X: 0, Y: 1, Z: 2, U: 0, V: 1, W: 2 };
const AXIS_ABOUT: Readonly<Record<string, number>> = { A: 0, B: 1, C: 2 };

function letterFindings({ joints }: Machine): Finding[] {
  return joints.flatMap(({ kind, letter, axis }) => {
    const share = (i: number): number => Math.abs(dot(unit(axis), MAIN[i]![1]));
    const nearest = [0, 1, 2].reduce((best, i) => (share(i) > share(best) ? i : best), 0);
    const said = (kind === 'linear' ? AXIS_ALONG : AXIS_ABOUT)[letter];
    if (said === nearest) return [];
    const how = kind === 'linear' ? 'goes along' : 'turns about';
    const right = Object.entries(kind === 'linear' ? AXIS_ALONG : AXIS_ABOUT).find(
      ([, i]) => i === nearest,
    )!;
    return [
      found(
        'machine/letter-axis',
        'warning',
        `joint ${letter} ${how} the machine's ${MAIN[nearest]![0]}, which ISO 841 calls ${right[0]}: are two letters mixed up?`,
      ),
    ];
  });
}

function axisFindings(machine: Machine): Finding[] {
  const out: Finding[] = [];
  const { w1, w2, first, second } = rotaryPair(machine);
  const letters = [first, second].map((i) => machine.joints[i]!.letter);
  const between = Math.min(angle(w1, w2), Math.PI - angle(w1, w2)) / DEG;
  if (between < NEAR_PARALLEL) {
    out.push(
      found(
        'machine/near-parallel',
        'warning',
        `the axes of ${letters.join(' and ')} are ${short(between)} deg from parallel, the least that leaves directions to choose from is ${NEAR_PARALLEL} deg`,
      ),
    );
  }
  const linear = jointsOf(machine, 'linear').map((i) => machine.joints[i]!);
  linear.forEach((a, i) => {
    for (const b of linear.slice(i + 1)) {
      const off = Math.abs(90 - angle(a.axis, b.axis) / DEG);
      if (off <= NOT_SQUARE) continue;
      out.push(
        found(
          'machine/not-square',
          'warning',
          `${a.letter} and ${b.letter} are ${short(off)} deg from square, the limit is ${NOT_SQUARE} deg`,
        ),
      );
    }
  });
  return out;
}

function readyFindings(machine: Machine): Finding[] {
  const over = forward(machine, machine.ready).tip[2];
  if (over >= machine.clearance) return [];
  return [
    found(
      'machine/ready-low',
      over < 0 ? 'error' : 'warning',
      `at the ready place the tip stands ${short(over)} mm over the table face, the least is the clearance of ${machine.clearance} mm: raise it under "ready"`,
    ),
  ];
}

function meetingFindings(machine: Machine): Finding[] {
  const { atReady, together, sweeps } = jointSweeps(machine);
  const built = together.map(([a, b]) =>
    found(
      'machine/built-together',
      'note',
      `${a} and ${b} are within ${machine.clearance} mm of one another with all joints at zero, so they are taken to be built so, and nothing keeps them apart`,
    ),
  );
  if (atReady) {
    const [a, b] = atReady;
    return [
      ...built,
      found(
        'machine/ready-meets',
        'error',
        `at the ready place ${a} is nearer than ${machine.clearance} mm to ${b}: correct the bodies or "ready"`,
      ),
    ];
  }
  return [...built, ...sweeps.flatMap((sweep) => sweepFindings(machine, sweep))];
}

/** A head that goes straight into table or frame is for the plan to avoid; one that a turn brings there is not seen coming. */
function sweepFindings(machine: Machine, { joint: j, to, met, bodies }: JointSweep): Finding[] {
  if (met === undefined || !bodies) return [];
  const joint = machine.joints[j]!;
  const withHead = bodies.some((name) => name === 'the head');
  const severity = !withHead ? 'error' : joint.kind === 'rotary' ? 'warning' : 'note';
  const text = `from the ready place ${joint.letter} can go to ${valueText(joint, met)}, where ${bodies[0]} comes within ${machine.clearance} mm of ${bodies[1]}; its travel goes on to ${valueText(joint, to)}`;
  return [found('machine/meets-in-travel', severity, text)];
}

/** An endless axis has no end stop; only the start lines can say where its zero is. */
function homeFindings({ joints, dialect }: Machine): Finding[] {
  return joints.flatMap((joint) => {
    if (!joint.endless) return [];
    const named = dialect.start.some((line) =>
      new RegExp(`(^|[^A-Za-z])${joint.letter}([^A-Za-z]|$)`).test(line),
    );
    if (named) return [];
    return [
      found(
        'machine/no-home',
        'warning',
        `${joint.letter} turns without end and none of the ${dialect.start.length} start lines names it: say there what place of it is zero (as by G92 ${joint.letter}0), for every program counts from it`,
      ),
    ];
  });
}

/** Lines without which a program cannot be written, or does not do what it must. */
function lineFindings({ dialect }: Machine): Finding[] {
  const out = (['nozzleTemperature', 'tableTemperature'] as const).flatMap((key) =>
    dialect[key] === undefined
      ? [
          found(
            'machine/no-temperature-line',
            'warning',
            `the file has no line dialect.${key}: a material that wants another temperature on the first layer than after it is refused`,
          ),
        ]
      : [],
  );
  const heats = dialect.start.some((line) => line.includes('{nozzleTemperature}'));
  if (!heats) {
    const text = `none of the ${dialect.start.length} start lines fills in {nozzleTemperature}: nothing heats the nozzle before the first move`;
    out.push(found('machine/no-heating', 'warning', text));
  }
  return out;
}

function reachFindings(machine: Machine, { everyTilt, greatestTilt }: TiltReach): Finding[] {
  const [every, most] = [everyTilt / DEG, greatestTilt / DEG];
  const out = [
    found(
      'machine/reach',
      every > 0 ? 'note' : 'warning',
      `the head reaches every direction up to ${short(every)} deg from the table normal, and none beyond ${short(most)} deg`,
    ),
  ];
  const { w1, first } = rotaryPair(machine);
  const pole = machine.joints[first]!;
  const rate = pole.speed / DEG;
  const within = Math.asin(Math.min(1, DIRECTION_RATE / rate)) / DEG;
  out.push(
    found(
      'machine/pole',
      'note',
      `within ${short(within)} deg of ${poleName(machine, w1, pole)} ${pole.letter} sets the pace: to turn the head's direction by ${DIRECTION_RATE} deg/s there it must go faster than its ${short(rate)} deg/s, and on the axis itself it may stand anywhere`,
    ),
  );
  return out;
}

/** The directions along the axis nearer to the part. */
function poleName({ mount }: Machine, axis: Vec3, { letter }: Joint): string {
  const normal: Vec3 = [mount[8]!, mount[9]!, mount[10]!];
  const off = length(cross(unit(axis), normal));
  return off < Math.sin(1 * DEG) ? 'the table normal' : `the axis of ${letter}`;
}

function roomFindings(
  machine: Machine,
  { everyTilt }: TiltReach,
  asked: Vec3 | undefined,
): Finding[] {
  const { face } = machine;
  const width = face.shape === 'disc' ? 2 * face.radius : Math.min(...face.size);
  const [x, y, height] = asked ?? [width / 2 / Math.SQRT2, width / 2 / Math.SQRT2, width / 2];
  const across = Math.hypot(x, y);
  const most = everyTilt / DEG;
  const tilts = Array.from({ length: Math.floor(most / ROOM_STEP) + 1 }, (_, i) => i * ROOM_STEP);
  if (most - tilts.at(-1)! > 1) tilts.push(most);
  const out: Finding[] = [];
  if (!asked) {
    const text = `no part is given, so room is looked for one ${short(across)} mm across and ${short(height)} mm high, half the table's width`;
    out.push(found('machine/part-assumed', 'note', text));
  }
  const wide = face.shape === 'disc' ? 2 * face.radius : Math.hypot(...face.size);
  if (across > wide) {
    out.push(
      found(
        'machine/part-room',
        'warning',
        `the part is ${short(across)} mm across, the table face ${short(wide)} mm`,
      ),
    );
  }
  for (const tilt of tilts) {
    const room = partRoom(machine, tilt * DEG, height);
    const ended = machine.joints[room.endedBy];
    const by = ended ? `${ended.letter} (${travelText(ended)}) ends it` : 'it is not reached';
    const fits = room.across >= across - 1e-9;
    out.push(
      found(
        'machine/part-room',
        fits ? 'note' : 'warning',
        `tilt ${short(tilt)} deg: a part ${short(height)} mm high may be ${short(room.across)} mm across${fits ? '' : `, asked are ${short(across)} mm`}; ${by}; the tip keeps ${short(room.tipOver)} mm over the table face`,
      ),
    );
  }
  return out;
}

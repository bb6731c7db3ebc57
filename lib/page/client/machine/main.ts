/**
 * The page of a machine: joints are moved by sliders, numbers and keys; beside the picture stands where the tip is,
 * what meets first as each joint goes on from here, how wide a part may be at a tilt, and what the check finds.
 */
import { DEG } from '../../../base/vector.js';
import { settingOf } from '../../../clearance/scene.js';
import { checkMachine } from '../../../commission/check-machine.js';
import { type Sweeps, jointSweeps } from '../../../commission/joint-sweeps.js';
import { fileUnit, short, travelText, valueText } from '../../../commission/joint-words.js';
import { partRoom } from '../../../commission/part-room.js';
import { forward } from '../../../machine/forward.js';
import type { Joint, Machine, MachineFile } from '../../../machine/machine.js';
import { reachOf } from '../../../machine/reachable-directions.js';
import { readMachine } from '../../../machine/read-files.js';
import { byId, el } from '../dom.js';
import { MachineView } from './view.js';

/** How long the joints rest before it is looked for what meets, ms. */
const SWEEP_REST_MS = 120;
const KEY_TURN = Math.PI / 24;
const MACHINE_KEYS: readonly (readonly [string, string])[] = [
  ['1 to 5', 'choose a joint'],
  ['← →', 'move it by 1 mm or deg, with Shift by 10'],
  ['R', 'to the ready place'],
  ['Z', 'all at zero'],
  ['X, V, B', 'axes, reach, work room'],
  ['A, D, W, S', 'turn the view'],
  ['+ −', 'nearer, farther'],
  ['0', 'look at the whole machine'],
];

const content = JSON.parse(byId('data').textContent!) as MachineFile;
const machine = machineOrReason();
const setting = settingOf(machine);
const reach = reachOf(machine);
const joints = machine.ready.slice();
let chosen = 0;
let resting = 0;

byId('title').textContent = machine.name;
const view = viewOrNote();

/** A file that has lain in a library may be one that is read no longer. */
function machineOrReason(): Machine {
  try {
    return readMachine(content);
  } catch (error) {
    byId('title').textContent = document.title;
    const reason = `This machine file cannot be read: ${(error as Error).message}`;
    byId('desk').replaceChildren(el('p', { class: 'unread', role: 'alert' }, reason));
    throw error;
  }
}

function viewOrNote(): MachineView | undefined {
  try {
    return new MachineView(byId<HTMLCanvasElement>('canvas'), machine, reach);
  } catch {
    byId('stage').replaceChildren(
      el(
        'p',
        { class: 'no-view' },
        'This browser gives no WebGL 2, so there is no picture; all figures are here.',
      ),
    );
    return undefined;
  }
}

interface JointRow {
  readonly row: HTMLElement;
  readonly slider: HTMLInputElement;
  readonly number: HTMLInputElement;
  readonly touch: HTMLElement;
}

/** A joint that has no end is moved by one turn either way. */
const endsOf = ({ least, most }: Joint): readonly [number, number] => [
  Number.isFinite(least) ? least : -2 * Math.PI,
  Number.isFinite(most) ? most : 2 * Math.PI,
];

const rows = machine.joints.map((joint, j): JointRow => {
  const [least, most] = endsOf(joint).map((v) => v / fileUnit(joint)) as [number, number];
  const unit = joint.kind === 'rotary' ? 'deg' : 'mm';
  const limits = { min: least, max: most, step: 'any' };
  const what = `${joint.letter}, ${joint.carriesTable ? 'carries the table' : 'carries the head'}`;
  const slider = el('input', { type: 'range', ...limits, 'aria-label': `${what}, ${unit}` });
  const number = el('input', {
    type: 'number',
    ...limits,
    'aria-label': `value of ${joint.letter}, ${unit}`,
  });
  const touch = el('span', { class: 'touch' });
  const row = el(
    'div',
    { class: 'joint-row' },
    el('strong', {}, joint.letter),
    slider,
    el('span', { class: 'number' }, number, unit),
    touch,
  );
  for (const input of [slider, number]) {
    input.addEventListener('input', () => {
      const value = input.valueAsNumber;
      if (Number.isFinite(value)) move(j, value * fileUnit(joint), input);
    });
    input.addEventListener('focus', () => choose(j));
  }
  number.addEventListener('change', () => show());
  byId('sliders').append(row);
  return { row, slider, number, touch };
});

function choose(j: number): void {
  chosen = j;
  rows.forEach(({ row }, i) => (row.dataset['chosen'] = String(i === j)));
}

function move(j: number, value: number, by?: HTMLInputElement): void {
  const [least, most] = endsOf(machine.joints[j]!);
  joints[j] = Math.min(most, Math.max(least, value));
  choose(j);
  show(by);
}

function moveAll(to: ArrayLike<number>): void {
  machine.joints.forEach((joint, j) => {
    const [least, most] = endsOf(joint);
    joints[j] = Math.min(most, Math.max(least, to[j]!));
  });
  show();
}

/** @param by what is being typed in is left as it is */
function show(by?: HTMLInputElement): void {
  rows.forEach(({ slider, number }, j) => {
    const value = joints[j]! / fileUnit(machine.joints[j]!);
    if (slider !== by) slider.value = String(value);
    if (number !== by) number.value = value.toFixed(1);
  });
  const { tip, direction } = forward(machine, joints);
  const tilt = Math.acos(Math.max(-1, Math.min(1, direction[2]))) / DEG;
  const azimuth = Math.atan2(direction[1], direction[0]) / DEG;
  const figures: readonly (readonly [string, string])[] = [
    ['tip over the table, X Y Z', `${tip.map((v) => v.toFixed(1)).join(', ')} mm`],
    ['tilt of the head over the table', `${tilt.toFixed(1)} deg`],
    ['towards', tilt < 0.05 ? 'upright' : `${azimuth.toFixed(1)} deg from X+`],
    ['reach, whatever the azimuth', `${short(reach.everyTilt / DEG)} deg`],
    ['greatest reach', `${short(reach.greatestTilt / DEG)} deg`],
  ];
  byId('figures').replaceChildren(
    ...figures.flatMap(([k, v]) => [el('dt', {}, k), el('dd', {}, v)]),
  );
  byId('where').textContent = machine.joints
    .map((j, i) => `${j.letter} ${valueText(j, joints[i]!)}`)
    .join('  ');
  view?.pose(joints);
  clearTimeout(resting);
  resting = window.setTimeout(() => tell(jointSweeps(machine, joints, setting)), SWEEP_REST_MS);
}

/** What meets here, and as each joint goes on. */
function tell({ atReady, sweeps }: Sweeps): void {
  const verdict = byId('verdict');
  const near = `${machine.clearance} mm`;
  verdict.dataset['severity'] = atReady ? 'error' : 'fine';
  verdict.textContent = atReady
    ? `Here ${atReady[0]} is within ${near} of ${atReady[1]}.`
    : `Here everything keeps its ${near}.`;
  rows.forEach(({ touch }, j) => {
    const joint = machine.joints[j]!;
    const own = sweeps.filter((s) => s.joint === j && s.met !== undefined);
    const told = own.map(
      ({ met, bodies }) => `at ${valueText(joint, met!)} ${bodies![0]} meets ${bodies![1]}`,
    );
    touch.textContent = atReady
      ? `travel ${travelText(joint)}`
      : `travel ${travelText(joint)}; ${told.length > 0 ? told.join('; ') : 'free all the way'}`;
  });
}

function showRoom(): void {
  const tilt = byId<HTMLInputElement>('tilt').valueAsNumber;
  const height = byId<HTMLInputElement>('height').valueAsNumber;
  const room = partRoom(machine, tilt * DEG, height);
  const ended = machine.joints[room.endedBy];
  byId('tilt-value').textContent = `${tilt} deg`;
  byId('height-value').textContent = `${height} mm`;
  byId('room-text').textContent = ended
    ? `At a tilt of ${tilt} deg a part ${height} mm high may be ${short(room.across)} mm across; ${ended.letter} (${travelText(ended)}) ends it. The tip keeps ${short(room.tipOver)} mm over the table face there.`
    : `A tilt of ${tilt} deg is not reached in every direction.`;
  view?.room(room.across, height);
  showLayers();
}

const checked = (id: string): boolean => byId<HTMLInputElement>(id).checked;
const showLayers = (): void =>
  view?.show({ arrows: checked('arrows'), reach: checked('reach'), room: checked('room') });

function showFindings(): void {
  const { guessed } = content;
  byId('findings').replaceChildren(
    ...checkMachine(machine, { guessed }).map(({ severity, message }) =>
      el('li', { 'data-severity': severity }, el('b', {}, severity), message),
    ),
  );
}

function savePicture(): void {
  if (!view) return;
  el('a', {
    href: view.picture(),
    download: `${machine.name.replace(/[^\w-]+/g, '-')}.png`,
  }).click();
}

const toggle = (id: string): void => byId(id).click();
const step = (by: number): void =>
  move(chosen, joints[chosen]! + by * fileUnit(machine.joints[chosen]!));
const ACTIONS: Readonly<Record<string, (event: KeyboardEvent) => void>> = {
  ArrowLeft: ({ shiftKey }) => step(shiftKey ? -10 : -1),
  ArrowRight: ({ shiftKey }) => step(shiftKey ? 10 : 1),
  r: () => moveAll(machine.ready),
  z: () => moveAll(joints.map(() => 0)),
  x: () => toggle('arrows'),
  v: () => toggle('reach'),
  b: () => toggle('room'),
  a: () => view?.orbit(-KEY_TURN, 0),
  d: () => view?.orbit(KEY_TURN, 0),
  w: () => view?.orbit(0, -KEY_TURN),
  s: () => view?.orbit(0, KEY_TURN),
  '+': () => view?.orbit(0, 0, 0.85),
  '=': () => view?.orbit(0, 0, 0.85),
  '-': () => view?.orbit(0, 0, 1 / 0.85),
  '0': () => view?.home(),
};

document.addEventListener('keydown', (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  const { target } = event;
  if (target instanceof HTMLInputElement && target.type !== 'checkbox') return;
  const j = Number(event.key) - 1;
  if (rows[j]) choose(j);
  else if (ACTIONS[event.key]) ACTIONS[event.key]!(event);
  else return;
  event.preventDefault();
});

byId('ready').addEventListener('click', () => moveAll(machine.ready));
byId('zero').addEventListener('click', () => moveAll(joints.map(() => 0)));
byId('home').addEventListener('click', () => view?.home());
byId('picture').addEventListener('click', savePicture);
for (const id of ['arrows', 'reach', 'room']) byId(id).addEventListener('change', showLayers);
byId<HTMLInputElement>('tilt').max = String(Math.floor(reach.everyTilt / DEG));
for (const id of ['tilt', 'height']) {
  byId(id).addEventListener('input', () => {
    byId<HTMLInputElement>('room').checked = true;
    showRoom();
  });
}
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => view?.recolour());
byId('keys')
  .querySelector('dl')!
  .append(...MACHINE_KEYS.flatMap(([key, does]) => [el('dt', {}, key), el('dd', {}, does)]));
// For tests: how many pictures there were.
Object.assign(window, { machineView: view });
choose(0);
showRoom();
show();
// The check takes some tenths of a second; the picture and what meets first come before it.
window.setTimeout(showFindings, SWEEP_REST_MS);

/** Start of the page: data are unpacked, every part of the page is built and notified of changes. */
import { Vector3 } from 'three';
import { type Packed, unpack } from '../data/packing.js';
import { schemeOf, scaleLegend } from './colours.js';
import { byId, el } from './dom.js';
import { showErrors } from './errors.js';
import { blocksOf, nearestBead, placeOf, showFindings } from './findings.js';
import { Joints } from './joints.js';
import { KEYS, listenKeys } from './keys.js';
import { type PageModel, modelInSteps } from './model.js';
import { listenPicks } from './pick.js';
import { Player } from './player.js';
import { SceneView } from './scene.js';
import { showShape } from './shape.js';
import { MODES, type ColourMode, type PlayerState, Store } from './store.js';
import * as tables from './tables.js';
import { diverging } from '../../draw/diverging.js';
import { duration, plural } from './number-words.js';

async function start(): Promise<void> {
  const data = byId('data');
  const packed = unpack(data.textContent);
  data.remove();
  const model = await modelFrom(packed);
  const store = new Store({
    time: model.end.at(-1) ?? 0,
    playing: false,
    rate: 60,
    mode: 'region',
    still: 'part',
    alone: false,
    moves: false,
    machine: false,
    skin: 'hidden',
    finding: -1,
  });
  byId('wait').remove();
  document.querySelector('main')!.hidden = false;
  showTitle(model);
  const player = new Player(model, store);
  const view = openView(model);
  tables.showFigures(byId('figures'), model);
  showFindings(byId('findings'), model, store);
  tables.showRegions(byId('regions'), model, player);
  tables.showDirections(byId('directions'), model, store);
  showShape(byId('shape'), model, store);
  tables.showPace(byId('pace'), model);
  const joints = new Joints(byId('joints'), model, store, player);
  tables.showLayers(byId('layers'), model, player);
  showErrors(byId('errors'), model);
  tables.showCautions(byId('cautions'), model);
  bindChoices(store, model);
  if (view) {
    connect(view, model, store);
    listenPicks(byId<HTMLCanvasElement>('canvas'), view, model, store, player);
    byId('home').addEventListener('click', () => view.home());
  }
  listenScheme(() => {
    joints.redraw();
    if (view) paintScheme(view);
  });
  store.listen((state, change) => {
    if (change.finding !== undefined && state.finding >= 0) jump(model, store, view, state.finding);
  });
  listenKeys(store, player, view, jumpsOf(model));
  Object.assign(window, { tiltwright: { store, model, view } });
}

/** Keeps the page responsive between the steps. */
async function modelFrom(packed: Packed): Promise<PageModel> {
  const steps = modelInSteps(packed);
  for (;;) {
    const { done, value } = steps.next();
    if (done) return value;
    await new Promise((resolve) => setTimeout(resolve));
  }
}

function showTitle({ head, count }: PageModel): void {
  const { names, regions, motion } = head.report;
  const name = names.part.split('/').at(-1)!;
  byId('title').textContent = name;
  byId('subtitle').textContent =
    `${plural(regions.length, 'region')} · ${duration(motion.seconds)} · ${plural(count, 'block')} · ${names.machine} · ${names.material}`;
  const errors = head.findings.filter((f) => f.severity === 'error').length;
  const warnings = head.findings.filter((f) => f.severity === 'warning').length;
  const verdict = byId('verdict');
  verdict.dataset['severity'] = errors ? 'error' : warnings ? 'warning' : 'fine';
  const checked = head.report.check ? 'read back and checked' : 'not checked';
  const found = errors
    ? plural(errors, 'error')
    : warnings
      ? plural(warnings, 'warning')
      : 'no errors, no warnings';
  verdict.textContent = `${checked}: ${found}`;
}

/** The view, or a sentence in its place where the browser has no WebGL; all else works without it. */
function openView(model: PageModel): SceneView | undefined {
  const canvas = byId<HTMLCanvasElement>('canvas');
  try {
    const label = byId('drawing');
    return new SceneView(canvas, model, (yes) => (label.hidden = !yes));
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    byId('drawing').remove();
    canvas.replaceWith(
      el('p', { class: 'no-view' }, `No 3-D view: this browser gives no WebGL 2 (${why}).`),
    );
    return undefined;
  }
}

function connect(view: SceneView, model: PageModel, store: Store): void {
  const joints = new Float64Array(model.machine.joints.length);
  const pose = (state: PlayerState): void => {
    const b = model.blockAt(state.time);
    const seconds = model.secondsOf(b);
    const left = seconds > 0 ? (model.end[b]! - state.time) / seconds : 0;
    const share = 1 - Math.max(0, Math.min(1, left));
    model.jointsAt(b, share, joints);
    view.bodies.pose(joints, state.still);
    const layer = model.layers[model.layerOf[b] ?? 0];
    const first = state.alone && layer ? layer.from : 0;
    view.beads.show({ first, last: b, share, moves: state.moves });
    if (state.playing) view.frames.move();
    else view.frames.change();
  };
  const recolour = (mode: ColourMode): void => {
    const scheme = schemeOf(model, mode);
    view.beads.paint(scheme.paint);
    byId('legend').replaceChildren(
      store.state.skin === 'error' ? errorLegend(view) : scheme.legend,
    );
    view.frames.change();
  };
  store.listen((state, change) => {
    if (change.mode !== undefined || change.skin !== undefined) recolour(state.mode);
    if (change.time !== undefined || change.still !== undefined || change.alone !== undefined) {
      pose(state);
    }
    if (change.moves !== undefined) pose(state);
    view.apply(state);
  });
  paintScheme(view);
  recolour(store.state.mode);
  pose(store.state);
  view.apply(store.state);
}

const errorLegend = (view: SceneView): HTMLElement =>
  scaleLegend('too little – too much, mm', -view.mostError, view.mostError, (share) =>
    diverging(2 * share - 1),
  );

function jump(model: PageModel, store: Store, view: SceneView | undefined, i: number): void {
  const finding = model.head.findings[i]!;
  const place = placeOf(model, finding);
  const block = blocksOf(model, finding).at(-1) ?? (place ? nearestBead(model, place) : -1);
  if (block >= 0) store.set({ time: model.end[block]!, playing: false });
  if (!view || !place) return;
  view.marker.put(place);
  // A part that stands still has its coordinates in the view's own frame.
  store.set({ still: 'part' });
  view.approach(place);
  if (window.matchMedia('(max-width: 900px)').matches) {
    byId('viewer').scrollIntoView({ block: 'start' });
  }
}

function jumpsOf(model: PageModel): number[] {
  const rank = { error: 0, warning: 1, note: 2 };
  const { findings } = model.head;
  return [...findings.keys()]
    .filter((i) => placeOf(model, findings[i]!) instanceof Vector3)
    .sort((a, b) => rank[findings[a]!.severity] - rank[findings[b]!.severity]);
}

/** Binds controls and state both ways. */
function bindChoices(store: Store, model: PageModel): void {
  const mode = byId<HTMLSelectElement>('mode');
  for (const [value, name] of Object.entries(MODES)) mode.append(el('option', { value }, name));
  const skin = byId<HTMLSelectElement>('skin');
  if (model.samples) skin.append(el('option', { value: 'error' }, 'shape error'));
  for (const key of ['mode', 'still', 'skin'] as const) {
    const select = byId<HTMLSelectElement>(key);
    select.value = store.state[key];
    select.addEventListener('change', () => store.set({ [key]: select.value }));
  }
  for (const key of ['alone', 'moves', 'machine'] as const) {
    const box = byId<HTMLInputElement>(key);
    box.checked = store.state[key];
    box.addEventListener('change', () => store.set({ [key]: box.checked }));
  }
  store.listen((state) => {
    for (const key of ['mode', 'still', 'skin'] as const) {
      byId<HTMLSelectElement>(key).value = state[key];
    }
    for (const key of ['alone', 'moves', 'machine'] as const) {
      byId<HTMLInputElement>(key).checked = state[key];
    }
  });
  const list = document.querySelector('#keys dl')!;
  for (const [key, does] of KEYS) list.append(el('dt', {}, key), el('dd', {}, does));
}

function listenScheme(changed: () => void): void {
  window.matchMedia('(prefers-color-scheme: dark)').addEventListener('change', changed);
}

function paintScheme(view: SceneView): void {
  const style = getComputedStyle(document.documentElement);
  const of = (name: string): string => style.getPropertyValue(name).trim();
  view.bodies.recolour({ head: of('--head'), table: of('--table'), frame: of('--frame') });
  view.skin.recolour(of('--skin'));
  view.frames.change();
}

requestAnimationFrame(() => setTimeout(() => void start()));

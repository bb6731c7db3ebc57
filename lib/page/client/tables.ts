/**
 * The page's figures in tables: main figures, regions, what sets the pace, layers, cautions,
 * directions.
 */
import type { Vec3 } from '../../base/vector.js';
import { discRadius, onDisc } from '../../directions/disc.js';
import { viridis } from '../../draw/viridis.js';
import { css, regionColour } from '../../draw/palette.js';
import type { CurvedReport } from '../../report/report.js';
import { scaleLegend } from './colours.js';
import { el, scroller, table } from './dom.js';
import type { PageModel } from './model.js';
import type { Player } from './player.js';
import type { Store } from './store.js';
import { count, duration, figure, plural, tiltWords } from './number-words.js';

export function showFigures(box: HTMLElement, { head, count: blocks }: PageModel): void {
  const { report } = head;
  const errors = head.findings.filter((f) => f.severity === 'error').length;
  const rows: [string, string][] = [
    ['time, estimated', duration(report.motion.seconds)],
    ['material', `${figure(report.material.massG)} g`],
    ['filament', `${(report.material.filamentMm / 1000).toFixed(2)} m`],
    ['regions', count(report.regions.length)],
    ['transfers', count(report.motion.transfers)],
    ['blocks', count(blocks)],
    ['hangs unsupported', `${figure(report.unsupported.fromLayersMm2)} mm²`],
    ['findings', errors ? plural(errors, 'error') : plural(head.findings.length, 'finding')],
  ];
  for (const [name, value] of rows) {
    box.append(el('div', {}, el('dt', {}, name), el('dd', {}, value)));
  }
}

const swatch = (i: number): HTMLElement =>
  el('i', { class: 'swatch', style: `background:${css(regionColour(i))}` });

export function showRegions(box: HTMLElement, model: PageModel, player: Player): void {
  const { regions } = model.head.report;
  const rows = regions.map((r, i) => {
    const first = model.layers.findIndex((l) => l.region === i);
    const name = el('button', { type: 'button', class: 'row' }, swatch(i), `${i + 1}`);
    name.setAttribute('aria-label', `go to the first layer of region ${i + 1}`);
    name.addEventListener('click', () => player.toLayer(first));
    const stands = r.standsOn.length ? r.standsOn.map((s) => s + 1).join(', ') : 'table';
    return [
      name,
      tiltWords(r),
      Number.isFinite(r.rotaryDeg) && !r.curved ? r.rotaryDeg.toFixed(1) : '–',
      stands,
      count(r.layers),
      (r.volumeMm3 / 1000).toFixed(2),
      figure(r.unsupportedFromLayersMm2),
    ];
  });
  const heads = ['region', 'tilt, °', 'rotary, °', 'stands on', 'layers', 'cm³', 'hangs, mm²'];
  box.append(scroller(table('Regions in printing order', heads, rows)));
  const u = model.head.report.unsupported;
  const { mm2, longestMm } = u.bridges;
  const bridged =
    mm2 > 0 ? `, bridged ${figure(mm2)} mm², at most ${figure(longestMm)} mm from end to end` : '';
  box.append(
    el(
      'p',
      { class: 'soft' },
      `Hangs unsupported: as placed ${figure(u.asPlacedMm2)} mm², in the best single direction ${figure(u.bestSingleDirectionMm2)} mm², as planned ${figure(u.plannedMm2)} mm², counted from the layers ${figure(u.fromLayersMm2)} mm², ${figure(u.overFillMm2)} mm² of it between beads of fill${bridged}.`,
    ),
    ...regions.flatMap(({ curved }) =>
      curved ? [el('p', { class: 'soft' }, curvedWords(curved))] : [],
    ),
  );
}

/** How curved layers grow, what no field could carry, and what flat layers would have given. */
function curvedWords({
  grownFrom,
  mostTiltDeg,
  thicknessMm: [thin, thick],
  outOfReachMm2,
  flat,
}: CurvedReport): string {
  const from = grownFrom === 'height' ? 'the height' : 'the distance from what stands on the table';
  const instead = flat
    ? ` Flat layers would leave ${figure(flat.unsupportedFromLayersMm2)} mm² and take ${duration(flat.seconds)}.`
    : '';
  return `Curved layers, grown from ${from}: sheets tilted by up to ${mostTiltDeg.toFixed(1)}°, beads ${thin.toFixed(2)} to ${thick.toFixed(2)} mm high. ${figure(outOfReachMm2)} mm² of the skin lean so far so near to the table that no tilt of the machine would carry them.${instead}`;
}

/** What other than a joint may set the pace. */
const OTHERS: Readonly<Record<string, string>> = {
  flow: 'flow',
  asked: 'asked for',
  layerTime: 'layer time',
  filament: 'filament',
};

/** Shares of the time in which a joint, or something else, holds everything back. */
export function showPace(box: HTMLElement, { head, machine }: PageModel): void {
  const shares = head.report.motion.paceShare;
  const letters = machine.joints.map((j) => j.letter);
  const list = el('ul', { class: 'pace' });
  for (const [name, share] of Object.entries(shares)) {
    const j = letters.indexOf(name);
    list.append(bar(OTHERS[name] ?? name, share, j < 0 ? 'var(--soft)' : css(regionColour(j))));
  }
  box.append(
    list,
    el(
      'p',
      { class: 'soft' },
      'Share of the time in which everything waits for a joint at its limit of speed or acceleration, for what the nozzle melts, for the speed that the job asks for, for the least time of a layer, or for filament that moves alone. Estimated.',
    ),
  );
}

const bar = (name: string, share: number, colour: string): HTMLElement =>
  el(
    'li',
    {},
    el('span', {}, name),
    el('i', { class: 'track' }, el('i', { style: `width:${100 * share}%;background:${colour}` })),
    el('span', { class: 'number' }, `${(100 * share).toFixed(1)}%`),
  );

export function showLayers(box: HTMLElement, model: PageModel, player: Player): void {
  model.head.report.regions.forEach((_, region) => {
    const own = [...model.layers.keys()].filter((i) => model.layers[i]!.region === region);
    if (own.length === 0) return;
    const title = el(
      'summary',
      {},
      swatch(region),
      `Region ${region + 1}: ${plural(own.length, 'layer')}`,
    );
    const fold = el('details', {}, title);
    // Rows are made when they are asked for: a tall part has thousands.
    fold.addEventListener('toggle', () => {
      if (fold.open && fold.childElementCount === 1) fold.append(layerTable(model, own, player));
    });
    box.append(fold);
  });
}

function layerTable(model: PageModel, own: readonly number[], player: Player): HTMLElement {
  const rows = own.map((i) => {
    const l = model.layers[i]!;
    const name = el('button', { type: 'button', class: 'row' }, String(l.number));
    name.setAttribute('aria-label', `go to layer ${l.number} of region ${l.region + 1}`);
    name.addEventListener('click', () => player.toLayer(i));
    return [
      name,
      l.height.toFixed(2),
      l.thickness.toFixed(3),
      (l.length / 1000).toFixed(2),
      figure(l.volume),
      l.seconds.toFixed(1),
      Number.isFinite(l.leastFlow) ? `${l.leastFlow.toFixed(2)} – ${l.mostFlow.toFixed(2)}` : '–',
    ];
  });
  const heads = ['layer', 'height, mm', 'thick, mm', 'bead, m', 'mm³', 's', 'flow, mm³/s'];
  const what = model.head.report.regions[model.layers[own[0]!]!.region]!.curved
    ? 'Curved layers: mean height over the table and mean height of a bead'
    : 'Heights along the build direction';
  return scroller(table(what, heads, rows));
}

export function showCautions(box: HTMLElement, { head }: PageModel): void {
  const items = head.cautions.map(({ text, source }) =>
    el('li', {}, text, ...(source ? [el('span', { class: 'soft' }, ` ${source}`)] : [])),
  );
  box.append(el('ul', { class: 'cautions' }, ...items));
}

/** Side of the map's own coordinates. */
const MAP_SIDE = 100;

/** The small map of build directions, the planned ones marked and the present one moving on it. */
export function showDirections(box: HTMLElement, model: PageModel, store: Store): void {
  const { map, report } = model.head;
  const image = el('img', {
    src: map.image,
    alt: 'Every build direction on an equal-area disc, coloured by what hangs if the whole part is built along it',
  });
  const marks = report.regions.map((r, i) => mark(r.direction, String(i + 1)));
  const present = el('i', { class: 'present' });
  const rings = [30, 60, 90].map((tilt) => {
    const r = 50 * discRadius((tilt * Math.PI) / 180);
    return el('i', { class: 'ring', style: `inset:${50 - r}%` }, el('span', {}, `${tilt}°`));
  });
  box.append(
    el('div', { class: 'disc' }, image, ...rings, ...marks, present),
    scaleLegend('hangs if all is built in one direction, mm²', 0, map.mostMm2, viridis),
    el(
      'p',
      { class: 'soft' },
      'Seen from above the table, areas true; part +X to the right, +Y up. Pale: out of reach. Numbers: directions of the regions; the cross: where the head points now.',
    ),
  );
  const place = (): void => {
    const b = model.blockAt(store.state.time);
    const d = [...model.directions.subarray(3 * b + 3, 3 * b + 6)] as unknown as Vec3;
    if (d.length === 3) put(present, d);
  };
  store.listen((_, change) => {
    if (change.time !== undefined) place();
  });
  place();
}

function mark(direction: Vec3, name: string): HTMLElement {
  const element = el('i', { class: 'direction' }, el('span', {}, name));
  put(element, direction);
  return element;
}

function put(element: HTMLElement, direction: Vec3): void {
  const [u, v] = onDisc(direction);
  element.style.left = `${(MAP_SIDE * (1 + u)) / 2}%`;
  element.style.top = `${(MAP_SIDE * (1 - v)) / 2}%`;
}

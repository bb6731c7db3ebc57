/** The list of findings: each a button that moves view and time to its place. */
import { Vector3 } from 'three';
import type { Finding } from '../../base/fault.js';
import { TraceKind } from '../../verify/trace.js';
import { el } from './dom.js';
import type { PageModel } from './model.js';
import { firstAtLeast } from './model.js';
import type { Store } from './store.js';
import { plural, typeset } from './number-words.js';

const SEVERITY_ORDER = { error: 0, warning: 1, note: 2 } as const;
const SEVERITY_NAMES = { error: 'error', warning: 'warning', note: 'note' } as const;

/** Blocks that the line of a finding makes. */
export function blocksOf(model: PageModel, { at }: Finding): number[] {
  if (at?.line === undefined || at.file !== undefined) return [];
  const first = firstAtLeast(model.line, at.line);
  const blocks: number[] = [];
  for (let b = first; b < model.count && model.line[b] === at.line; b++) blocks.push(b);
  return blocks;
}

/** Where a finding is, part frame; undefined if it names no place. */
export function placeOf(model: PageModel, finding: Finding): Vector3 | undefined {
  const { at } = finding;
  if (at?.point && (at.frame ?? 'part') === 'part') return new Vector3(...at.point);
  const [b] = blocksOf(model, finding);
  return b === undefined ? undefined : new Vector3().fromArray(model.tips, 3 * (b + 1));
}

/** The bead that ends nearest to a place of the part, -1 if there is none. */
export function nearestBead({ tips, kind, count }: PageModel, { x, y, z }: Vector3): number {
  let best = -1;
  let least = Infinity;
  for (let b = 0; b < count; b++) {
    if (kind[b] !== TraceKind.deposit) continue;
    const i = 3 * (b + 1);
    const far = (tips[i]! - x) ** 2 + (tips[i + 1]! - y) ** 2 + (tips[i + 2]! - z) ** 2;
    if (far < least) [best, least] = [b, far];
  }
  return best;
}

export function showFindings(box: HTMLElement, model: PageModel, store: Store): void {
  const { findings } = model.head;
  const order = [...findings.keys()].sort(
    (a, b) => SEVERITY_ORDER[findings[a]!.severity] - SEVERITY_ORDER[findings[b]!.severity],
  );
  if (order.length === 0) {
    box.append(el('p', { class: 'fine' }, 'Nothing was found.'));
    return;
  }
  const counts = (['error', 'warning', 'note'] as const)
    .map((s) => [s, findings.filter((f) => f.severity === s).length] as const)
    .filter(([, n]) => n > 0)
    .map(([s, n]) => plural(n, SEVERITY_NAMES[s]));
  box.append(el('p', { class: 'soft' }, counts.join(', ')));
  const list = el('ol', { class: 'findings' });
  const rows = order.map((i) => row(model, store, i));
  list.append(...rows);
  box.append(list);
  store.listen((state, change) => {
    if (change.finding === undefined) return;
    order.forEach((i, k) => {
      rows[k]!.firstElementChild?.setAttribute('aria-pressed', String(i === state.finding));
    });
  });
}

function row(model: PageModel, store: Store, i: number): HTMLElement {
  const finding = model.head.findings[i]!;
  const { severity, code, message, at } = finding;
  const place = placeOf(model, finding);
  const where = [
    at?.line === undefined || at.file !== undefined ? '' : `line ${at.line}`,
    place ? `at ${[place.x, place.y, place.z].map((x) => x.toFixed(1)).join(', ')} mm` : '',
  ].filter(Boolean);
  const inner = [
    el('span', { class: `badge ${severity}` }, SEVERITY_NAMES[severity]),
    el('span', { class: 'message' }, typeset(message)),
    el('span', { class: 'soft where' }, [code, ...where].join(' · ')),
  ];
  if (!place) return el('li', {}, el('div', { class: 'finding' }, ...inner));
  const jump = (): void => {
    store.set({ finding: -1 });
    store.set({ finding: i });
  };
  const attributes = { type: 'button', class: 'finding', 'aria-pressed': 'false', click: jump };
  return el('li', {}, el('button', attributes, ...inner));
}

/**
 * What the check found of what is laid: its shape against the part's surface, air, room, collisions.
 */
import { el } from './dom.js';
import type { PageModel } from './model.js';
import type { Store } from './store.js';
import { figure, plural } from './number-words.js';

type CheckReport = NonNullable<PageModel['head']['report']['check']>;

export function showShape(box: HTMLElement, { samples, head }: PageModel, store: Store): void {
  const { shape, print } = head.report.check ?? {};
  if (!shape && !print) {
    box.remove();
    return;
  }
  const list = el('dl', { class: 'figures' });
  for (const [name, value] of [...shapeRows(shape), ...printRows(print)]) {
    list.append(el('div', {}, el('dt', {}, name), el('dd', {}, value)));
  }
  box.append(list);
  if (!samples) return;
  box.append(
    el(
      'button',
      {
        type: 'button',
        click: () => store.set({ skin: store.state.skin === 'error' ? 'hidden' : 'error' }),
      },
      'error as colours on the part, or hidden',
    ),
  );
}

/** Distances from the part's surface to where the material ends. */
const shapeRows = (s: CheckReport['shape']): [string, string][] =>
  s
    ? [
        ['error, mean', `${signed(s.meanMm)} mm`],
        ['95% of the surface within', `${figure(s.p95Mm)} mm`],
        ['too little, at most', `${figure(-s.leastMm)} mm`],
        ['too much, at most', `${figure(s.mostMm)} mm`],
        ['material missing', `${figure(s.missingMm2)} mm²`],
        ['outside the part', `${figure(s.outsideMm3)} mm³`],
      ]
    : [];

const printRows = (p: CheckReport['print']): [string, string][] =>
  p
    ? [
        ['beads in the air', `${figure(p.inAirMm)} mm, ${(100 * p.inAirShare).toFixed(2)}%`],
        ['bridged', `${figure(p.bridgedMm)} mm`],
        ['no room for', `${figure(p.overfullMm3)} mm³`],
        ['touches', p.touches ? plural(p.touches, 'touch', 'touches') : 'none'],
      ]
    : [];

const signed = (x: number): string => `${x < 0 ? '−' : '+'}${figure(Math.abs(x))}`;

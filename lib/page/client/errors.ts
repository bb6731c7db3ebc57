/**
 * How far off the tip can be expected: the sentences, the picture, and each source with its formula.
 */
import { errorWords } from '../../report/error-words.js';
import { el, scroller, table } from './dom.js';
import type { PageModel } from './model.js';
import { figure } from './number-words.js';

const SOURCE_COLUMNS = [
  'source',
  'up to, mm',
  'at the worst place, mm',
  'kind',
  'formula',
  'not stated',
];

export function showErrors(box: HTMLElement, { head }: PageModel): void {
  const { errorBudget } = head.report;
  if (!errorBudget || !head.errors) {
    box.remove();
    return;
  }
  const lines = errorWords(errorBudget).map((line) => `${line[0]!.toUpperCase()}${line.slice(1)}.`);
  const rows = errorBudget.sources.map(({ name, kind, mm, formula, notStated, within }) => [
    name,
    mm ? figure(mm.most) : 'left out',
    mm ? figure(mm.atWorst) : 'left out',
    `${kind === 'random' ? 'random, standard uncertainty' : kind}${within ? `, within ${within}` : ''}`,
    formula,
    notStated.join('; '),
  ]);
  box.append(
    ...lines.map((line) => el('p', {}, line)),
    scroller(
      el('img', {
        src: head.errors,
        alt: 'beads coloured by the expected error, with a bar for each source',
      }),
      'picture',
    ),
    scroller(table('Sources of the expected error', SOURCE_COLUMNS, rows)),
    el('p', { class: 'soft' }, `Expected: ${errorBudget.combined}.`),
  );
}

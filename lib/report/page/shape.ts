/** What the check says about the deposited shape against the part's surface. */
import { el } from './dom.js';
import type { Model } from './model.js';
import type { Store } from './store.js';
import { figure } from './words.js';

export function showShape(box: HTMLElement, model: Model, store: Store): void {
  const { error } = model.skin;
  if (!error) {
    box.remove();
    return;
  }
  const sizes = Float64Array.from(error.filter((e) => !Number.isNaN(e))).map(Math.abs);
  sizes.sort();
  const at = (share: number): string => figure(sizes[Math.floor(share * (sizes.length - 1))] ?? 0);
  box.append(
    el(
      'p',
      {},
      `Half of the measured places lie within ${at(0.5)} mm of the part's surface, 95% within ${at(0.95)} mm; the worst is off by ${at(1)} mm.`,
    ),
    el(
      'button',
      { type: 'button', click: () => store.set({ skin: 'error' }) },
      'show as colours on the part',
    ),
  );
}

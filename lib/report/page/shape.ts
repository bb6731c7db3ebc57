/** What the check says about the deposited shape against the part's surface. */
import { el } from './dom.js';
import type { Model } from './model.js';
import type { Store } from './store.js';
import { count, figure } from './words.js';

export function showShape(box: HTMLElement, { samples }: Model, store: Store): void {
  if (!samples) {
    box.remove();
    return;
  }
  const sizes = Float32Array.from(samples.error, Math.abs).sort();
  const at = (share: number): string => figure(sizes[Math.floor(share * (sizes.length - 1))] ?? 0);
  const mean = samples.error.reduce((a, b) => a + b, 0) / samples.error.length;
  box.append(
    el(
      'p',
      {},
      `Measured at ${count(samples.error.length)} places of the surface: on average ${figure(Math.abs(mean))} mm too ${mean < 0 ? 'little' : 'much'}, half within ${at(0.5)} mm, 95% within ${at(0.95)} mm, the worst off by ${at(1)} mm.`,
    ),
    el(
      'button',
      {
        type: 'button',
        click: () => store.set({ skin: store.state.skin === 'error' ? 'hidden' : 'error' }),
      },
      'show as colours on the part, or hide',
    ),
  );
}

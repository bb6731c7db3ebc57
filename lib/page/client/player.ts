/** Time: play and pause, the slider over the whole program with its strip of regions, steps by layer. */
import { css, regionColour } from '../../draw/palette.js';
import { SEVERITY } from './colours.js';
import { byId } from './dom.js';
import { blocksOf } from './findings.js';
import type { PageModel } from './model.js';
import type { Store } from './store.js';
import { clock, duration } from './number-words.js';

/** Steps of the slider. */
const SLIDER_STEPS = 10_000;

export class Player {
  readonly #model: PageModel;
  readonly #store: Store;
  readonly #total: number;
  readonly #slider = byId<HTMLInputElement>('time');
  readonly #layer = byId<HTMLInputElement>('layer');
  #last = 0;

  constructor(model: PageModel, store: Store) {
    this.#model = model;
    this.#store = store;
    this.#total = model.end.at(-1) ?? 0;
    this.#slider.max = String(SLIDER_STEPS);
    this.#layer.max = String(Math.max(1, model.layers.length));
    this.#slider.addEventListener('input', () =>
      store.set({
        time: (Number(this.#slider.value) / SLIDER_STEPS) * this.#total,
        playing: false,
      }),
    );
    this.#layer.addEventListener('input', () => this.toLayer(Number(this.#layer.value) - 1));
    byId('play').addEventListener('click', () => this.toggle());
    byId('layer-before').addEventListener('click', () => this.stepLayer(-1));
    byId('layer-after').addEventListener('click', () => this.stepLayer(1));
    byId<HTMLSelectElement>('rate').addEventListener('change', (e) =>
      store.set({ rate: Number((e.target as HTMLSelectElement).value) }),
    );
    store.listen((state, change) => {
      if (change.playing) this.#start();
      if (change.playing !== undefined) this.#showPlaying(state.playing);
      if (change.time !== undefined) this.#show();
    });
    new ResizeObserver(() => this.#strip()).observe(byId('strip'));
    this.#show();
    this.#showPlaying(false);
  }

  toggle(): void {
    const { playing, time } = this.#store.state;
    const again = !playing && time >= this.#total ? { time: 0 } : {};
    this.#store.set({ ...again, playing: !playing });
  }

  /** To the end of a layer. */
  toLayer(i: number): void {
    const { layers, end } = this.#model;
    const layer = layers[Math.max(0, Math.min(layers.length - 1, i))];
    if (layer) this.#store.set({ time: end[layer.to - 1]!, playing: false });
  }

  stepLayer(by: number): void {
    const at = this.layer();
    const { layers, end } = this.#model;
    const inside = this.#store.state.time < end[layers[at]!.to - 1]! - 1e-9;
    // Stepping on from inside a layer first completes it.
    this.toLayer(by > 0 && inside ? at : at + by);
  }

  step(by: number): void {
    const { model: m, time } = { model: this.#model, time: this.#store.state.time };
    const b = Math.max(0, Math.min(m.count - 1, m.blockAt(time) + by));
    this.#store.set({ time: m.end[b]!, playing: false });
  }

  seek(time: number): void {
    this.#store.set({ time: Math.max(0, Math.min(this.#total, time)), playing: false });
  }

  /** Index of the layer that is being laid. */
  layer(): number {
    return this.#model.layerOf[this.#model.blockAt(this.#store.state.time)] ?? 0;
  }

  #start(): void {
    this.#last = performance.now();
    const frame = (now: number): void => {
      const { playing, rate, time } = this.#store.state;
      if (!playing) return;
      const next = time + (Math.max(0, now - this.#last) / 1000) * rate;
      this.#last = now;
      const over = next >= this.#total;
      this.#store.set({ time: Math.min(next, this.#total), ...(over ? { playing: false } : {}) });
      requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }

  #showPlaying(playing: boolean): void {
    const button = byId('play');
    button.setAttribute('aria-label', playing ? 'pause' : 'play');
    button.dataset['playing'] = String(playing);
  }

  #show(): void {
    const { time } = this.#store.state;
    const i = this.layer();
    const layer = this.#model.layers[i];
    const where = layer ? `region ${layer.region + 1}, layer ${layer.number}` : '';
    const share = this.#total > 0 ? time / this.#total : 0;
    this.#slider.value = String(Math.round(share * SLIDER_STEPS));
    this.#slider.setAttribute('aria-valuetext', `${duration(time)}, ${where}`);
    this.#slider.style.setProperty('--share', `${100 * share}%`);
    this.#layer.value = String(i + 1);
    this.#layer.setAttribute('aria-valuetext', where);
    byId('clock').textContent = `${clock(time)} of ${clock(this.#total)}`;
    byId('where').textContent = where;
    byId('line').textContent = `line ${this.#model.line[this.#model.blockAt(time)] ?? 0}`;
  }

  /** Which region is laid when, and where the findings are. */
  #strip(): void {
    const canvas = byId<HTMLCanvasElement>('strip');
    const ratio = window.devicePixelRatio;
    const w = (canvas.width = Math.round(canvas.clientWidth * ratio));
    const h = (canvas.height = Math.round(canvas.clientHeight * ratio));
    const c = canvas.getContext('2d');
    if (!c || this.#total <= 0) return;
    const { end, layers, head } = this.#model;
    const x = (time: number): number => (time / this.#total) * w;
    for (const layer of layers) {
      const from = layer.from ? end[layer.from - 1]! : 0;
      c.fillStyle = css(regionColour(layer.region));
      const left = Math.floor(x(from));
      c.fillRect(left, 0, Math.ceil(x(end[layer.to - 1]!)) - left, h);
    }
    for (const finding of head.findings) {
      const [b] = blocksOf(this.#model, finding);
      if (b === undefined || finding.severity === 'note') continue;
      c.fillStyle = css(SEVERITY[finding.severity]!);
      c.fillRect(x(end[b]!) - ratio, 0, 2 * ratio, h);
      c.strokeStyle = '#fff';
      c.strokeRect(x(end[b]!) - 1.5 * ratio, 0, 3 * ratio, h);
    }
  }
}

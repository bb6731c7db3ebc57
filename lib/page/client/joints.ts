/**
 * Curves of each joint over time, position beside speed, with its limits as dashed lines. Dragging over
 * an interval enlarges it in all of them; a click goes to that moment.
 */
import uPlot from 'uplot';
import { css, regionColour } from '../../draw/palette.js';
import { el } from './dom.js';
import { type Envelope, envelopeOf } from './envelope.js';
import { type PageModel, shown, unitOf } from './model.js';
import type { Player } from './player.js';
import type { Store } from './store.js';
import { clock, figure } from './number-words.js';

const PLOT_HEIGHT = 112;
const LABELS = 52;
/** Steps of the time axis, s. */
const TIME_STEPS = [
  1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14400, 28800, 86400,
];

type JointQuantity = 'position' | 'speed';

interface JointPlot {
  readonly joint: number;
  readonly what: JointQuantity;
  readonly plot: uPlot;
  readonly now: HTMLElement;
}

export class Joints {
  readonly #model: PageModel;
  readonly #store: Store;
  readonly #player: Player;
  readonly #curves: JointPlot[] = [];
  readonly #values: HTMLElement[] = [];
  readonly #whole: readonly [number, number];
  readonly #back = el('button', { type: 'button', class: 'quiet', hidden: true }, 'show all of it');
  #range: readonly [number, number];

  constructor(box: HTMLElement, model: PageModel, store: Store, player: Player) {
    this.#model = model;
    this.#store = store;
    this.#player = player;
    this.#whole = [0, Math.max(1e-3, model.end.at(-1) ?? 0)];
    this.#range = this.#whole;
    this.#back.addEventListener('click', () => this.#show(this.#whole));
    box.append(this.#back);
    model.machine.joints.forEach((_, j) => box.append(this.#row(j)));
    this.#show(this.#whole);
    store.listen((_, change) => {
      if (change.time !== undefined) this.#mark();
    });
    new ResizeObserver(() => this.#fit()).observe(box);
  }

  /** Draws again, for other colours. */
  redraw(): void {
    for (const { plot } of this.#curves) plot.redraw();
  }

  #row(j: number): HTMLElement {
    const { machine, head } = this.#model;
    const joint = machine.joints[j]!;
    const found = head.report.check?.joints[j];
    const unit = unitOf(machine, j);
    const says = found
      ? `${figure(found.least)} to ${figure(found.most)} ${unit}, at most ${figure(found.speed)} ${unit}/s (${Math.round(100 * found.speedShare)}% of its limit)`
      : '';
    const value = el('span', { class: 'soft value' });
    this.#values.push(value);
    const name = el(
      'figcaption',
      {},
      el('i', { class: 'swatch', style: `background:${css(regionColour(j))}` }),
      el('strong', {}, joint.letter),
      el('span', { class: 'soft' }, says),
      value,
    );
    const pair = el('div', { class: 'pair' });
    for (const what of ['position', 'speed'] as const) pair.append(this.#curve(j, what));
    return el('figure', { class: 'joint' }, name, pair);
  }

  #curve(j: number, what: JointQuantity): HTMLElement {
    const { machine } = this.#model;
    const unit = unitOf(machine, j) + (what === 'speed' ? '/s' : '');
    const holder = el('div', {
      class: 'curve',
      role: 'img',
      'aria-label': `${what} of joint ${machine.joints[j]!.letter} over time, ${unit}`,
    });
    const now = el('i', { class: 'now' });
    const colour = css(regionColour(j));
    const series = { stroke: colour, width: 1, points: { show: false } };
    const plot = new uPlot(
      {
        width: 300,
        height: PLOT_HEIGHT,
        legend: { show: false },
        cursor: { y: false, points: { show: false }, drag: { x: true, y: false, setScale: false } },
        scales: {
          x: { time: false },
          y: { range: (_u, least, most) => this.#span(j, what, least, most) },
        },
        series: [{}, series, series],
        bands: [{ series: [2, 1], fill: colour }],
        axes: [
          axis({ size: 22, incrs: TIME_STEPS, values: (_u, ticks) => ticks.map(clock) }),
          axis({ size: LABELS }),
        ],
        hooks: {
          setSelect: [(u) => this.#select(u)],
          drawAxes: [(u) => this.#limits(u, j, what)],
          ready: [(u) => u.over.append(now)],
        },
      },
      [[], [], []],
      holder,
    );
    plot.over.addEventListener('click', (event) => {
      const t = plot.posToVal(event.offsetX, 'x');
      if (plot.select.width < 3) this.#player.seek(t);
    });
    plot.over.addEventListener('dblclick', () => this.#show(this.#whole));
    holder.append(el('span', { class: 'unit' }, `${what}, ${unit}`));
    this.#curves.push({ joint: j, what, plot, now });
    return holder;
  }

  /** The limits of what a joint may do; none where it may turn without end. */
  #limit(j: number, what: JointQuantity): readonly number[] {
    const joint = this.#model.machine.joints[j]!;
    const limits = what === 'speed' ? [-joint.speed, joint.speed] : [joint.least, joint.most];
    return limits.filter(Number.isFinite).map((v) => shown(this.#model.machine, j, v));
  }

  #span(j: number, what: JointQuantity, least: number, most: number): [number, number] {
    const all = [...this.#limit(j, what), least, most].filter((v) => Number.isFinite(v));
    const low = Math.min(...all);
    const high = Math.max(...all, low + 1e-3);
    const room = 0.06 * (high - low);
    return [low - room, high + room];
  }

  #limits(u: uPlot, j: number, what: JointQuantity): void {
    const { ctx } = u;
    const { left, width } = u.bbox;
    ctx.save();
    ctx.strokeStyle = variable('--soft');
    ctx.lineWidth = window.devicePixelRatio;
    ctx.setLineDash([5, 4].map((d) => d * window.devicePixelRatio));
    for (const limit of this.#limit(j, what)) {
      const y = Math.round(u.valToPos(limit, 'y', true));
      ctx.beginPath();
      ctx.moveTo(left, y);
      ctx.lineTo(left + width, y);
      ctx.stroke();
    }
    ctx.restore();
  }

  #select(u: uPlot): void {
    const { left, width } = u.select;
    if (width < 3) return;
    this.#show([u.posToVal(left, 'x'), u.posToVal(left + width, 'x')]);
    u.setSelect({ left: 0, width: 0, top: 0, height: 0 }, false);
  }

  #show([from, to]: readonly [number, number]): void {
    const start = Math.max(this.#whole[0], from);
    const stop = Math.max(start + 1e-3, Math.min(this.#whole[1], to));
    this.#range = [start, stop];
    this.#back.hidden = start === this.#whole[0] && stop === this.#whole[1];
    const envelopes = this.#model.machine.joints.map((_, j) =>
      envelopeOf(this.#model, j, start, stop, 480),
    );
    for (const { joint, what, plot } of this.#curves) {
      const data = this.#data(joint, envelopes[joint]!, what);
      plot.batch(() => {
        plot.setData(data, false);
        plot.setScale('x', { min: start, max: stop });
      });
    }
    this.#mark();
  }

  #data(j: number, envelope: Envelope, what: JointQuantity): uPlot.AlignedData {
    const [low, high] = envelope[what].map((row) =>
      row.map((v) => shown(this.#model.machine, j, v)),
    );
    return [envelope.time, low!, high!];
  }

  /** The current time in every curve and in words. */
  #mark(): void {
    const { time } = this.#store.state;
    const [from, to] = this.#range;
    const share = (time - from) / (to - from);
    for (const { now } of this.#curves) {
      now.hidden = share < 0 || share > 1;
      now.style.left = `${100 * share}%`;
    }
    const b = this.#model.blockAt(time);
    const values = new Float64Array(this.#values.length);
    const seconds = this.#model.secondsOf(b);
    const part = seconds > 0 ? 1 - (this.#model.end[b]! - time) / seconds : 1;
    this.#model.jointsAt(b, Math.max(0, Math.min(1, part)), values);
    this.#values.forEach((box, j) => {
      const { machine } = this.#model;
      box.textContent = `${shown(machine, j, values[j]!).toFixed(2)} ${unitOf(machine, j)}`;
    });
  }

  #fit(): void {
    for (const { plot } of this.#curves) {
      const { clientWidth } = plot.root.parentElement!;
      if (clientWidth > 0 && clientWidth !== plot.width) {
        plot.setSize({ width: clientWidth, height: PLOT_HEIGHT });
      }
    }
  }
}

const variable = (name: string): string =>
  getComputedStyle(document.documentElement).getPropertyValue(name).trim();

function axis(rest: uPlot.Axis): uPlot.Axis {
  return {
    stroke: () => variable('--soft'),
    grid: { stroke: () => variable('--rule'), width: 1 },
    ticks: { show: false },
    font: '11px system-ui, sans-serif',
    gap: 4,
    ...rest,
  };
}

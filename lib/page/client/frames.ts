/**
 * Drawing the scene, complete pictures only. The scene is drawn on a canvas that nobody sees; only a
 * finished picture is copied to the page, so what is shown never holds less than what was shown before.
 *
 * A device that draws the fine picture quickly draws it in one go. Any other first draws the whole part
 * coarsely (fewer links, a quarter of the pixels), shows that, and once the view rests refines it in
 * steps short enough for the page to answer in between. Steps are timed by reading one pixel back,
 * which waits for the device.
 *
 * Rejected: steps drawn straight onto the page. While the player ran in software, 15 of 16 samples of
 * the picture were empty, and a half-drawn part looked finished.
 */
import { type Camera, type Scene, WebGLRenderer } from 'three';
import { type BeadsView, Pass } from './beads.js';

/** A picture that takes at most this is drawn in one go, while something moves and at rest, ms. */
const QUICK_MS = { moving: 45, resting: 120 } as const;
/** Wanted time of a step of a picture at rest, ms. */
const STEP_MS = 60;
/** The view rests after this time without a change, ms. */
const REST_MS = 160;
/** The coarse picture has this share of the pixels along each side. */
const COARSE_SHARE = 0.5;

export class Frames {
  /** Pictures finished so far: fine ones, and coarse ones while something moved. */
  drawn = 0;
  readonly #canvas: HTMLCanvasElement;
  readonly #shown: CanvasRenderingContext2D;
  readonly #renderer: WebGLRenderer;
  readonly #scene: Scene;
  readonly #camera: Camera;
  readonly #beads: BeadsView;
  readonly #sized: (width: number, height: number) => void;
  readonly #refining: (yes: boolean) => void;
  /** Of the view, CSS pixels. */
  #width = 0;
  #height = 0;
  /** What the drawing buffer was last set up for. */
  #setUp = '';
  /** Whether the scene has changed since the picture in work began. */
  #stale = false;
  #asked = false;
  #coarse = true;
  /** The next section of the picture in work. */
  #step = 0;
  /** Time to draw one section finely, ms; not known before the first. */
  #perSection = Infinity;
  #moving = false;
  #held = false;
  #rest = 0;

  /**
   * @param canvas on the page
   * @param sized called with the size of the drawing buffer in pixels when it changes
   * @param refining called with whether a finer picture than the one on the page is in work
   * @throws where the browser gives no WebGL 2
   */
  constructor(
    canvas: HTMLCanvasElement,
    scene: Scene,
    camera: Camera,
    beads: BeadsView,
    sized: (width: number, height: number) => void,
    refining: (yes: boolean) => void,
  ) {
    // Steps of a picture are drawn over what is there.
    const options = { antialias: true, alpha: true, preserveDrawingBuffer: true };
    this.#renderer = new WebGLRenderer({ canvas: document.createElement('canvas'), ...options });
    this.#canvas = canvas;
    this.#shown = canvas.getContext('2d')!;
    this.#scene = scene;
    this.#camera = camera;
    this.#beads = beads;
    this.#sized = sized;
    this.#refining = refining;
  }

  get context(): WebGL2RenderingContext {
    return this.#renderer.getContext() as WebGL2RenderingContext;
  }

  /** @param width CSS pixels */
  resize(width: number, height: number): void {
    [this.#width, this.#height] = [width, height];
    this.change();
  }

  /** The scene has changed. */
  change(): void {
    this.#stale = true;
    this.#ask();
  }

  /** The scene has changed and is about to change again. */
  move(): void {
    this.#moving = true;
    clearTimeout(this.#rest);
    this.#rest = window.setTimeout(() => this.#settle(), REST_MS);
    this.change();
  }

  /** While held the view never rests, however long a picture takes. */
  hold(yes: boolean): void {
    this.#held = yes;
  }

  #settle(): void {
    if (this.#held) return;
    this.#moving = false;
    this.change();
  }

  #ask(): void {
    if (this.#asked || !(this.#width > 0 && this.#height > 0)) return;
    this.#asked = true;
    requestAnimationFrame(() => {
      this.#asked = false;
      this.#draw();
    });
  }

  get #isQuick(): boolean {
    const whole = this.#perSection * Math.max(1, this.#beads.steps);
    return whole <= (this.#moving ? QUICK_MS.moving : QUICK_MS.resting);
  }

  #draw(): void {
    if (this.#stale) {
      this.#stale = false;
      this.#begin(!this.#isQuick);
    }
    const from = this.#step;
    const count = this.#coarse || this.#isQuick ? Infinity : this.#atOnce;
    const done = this.#render(from, from + count);
    this.#step = from + count;
    if (done) this.#finish();
    else this.#ask();
  }

  /** As many sections as fit into one step. */
  get #atOnce(): number {
    return Math.max(1, Math.floor(STEP_MS / this.#perSection) || 1);
  }

  #begin(coarse: boolean): void {
    this.#coarse = coarse;
    this.#step = 0;
    const ratio = Math.min(2, window.devicePixelRatio) * (coarse ? COARSE_SHARE : 1);
    const [w, h] = [this.#width, this.#height];
    this.#beads.coarser(coarse);
    const setUp = [w, h, ratio].join();
    if (setUp === this.#setUp) return;
    this.#setUp = setUp;
    this.#renderer.setPixelRatio(ratio);
    this.#renderer.setSize(w, h, false);
    this.#sized(w * ratio, h * ratio);
  }

  /** Draws sections from .. to (exclusive). @returns whether the picture is whole */
  #render(from: number, to: number): boolean {
    const [beads, camera] = [this.#beads, this.#camera];
    const done = to >= beads.steps;
    const began = performance.now();
    beads.step(from, to);
    camera.layers.set(Pass.beads);
    if (from === 0) camera.layers.enable(Pass.bodies);
    if (done) camera.layers.enable(Pass.over);
    this.#renderer.autoClear = from === 0;
    this.#renderer.render(this.#scene, camera);
    const gl = this.context;
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, new Uint8Array(4));
    if (!this.#coarse) {
      const sections = Math.max(1, Math.min(to, beads.steps) - from);
      this.#perSection = (performance.now() - began) / sections;
    }
    return done;
  }

  #finish(): void {
    this.#show();
    const refine = this.#coarse && !this.#moving;
    this.#refining(refine);
    if (refine) {
      this.#begin(false);
      this.#ask();
    } else this.drawn++;
  }

  /** Copies the finished picture to the page. */
  #show(): void {
    const ratio = Math.min(2, window.devicePixelRatio);
    const [w, h] = [Math.round(this.#width * ratio), Math.round(this.#height * ratio)];
    const canvas = this.#canvas;
    if (canvas.width !== w || canvas.height !== h) [canvas.width, canvas.height] = [w, h];
    this.#shown.clearRect(0, 0, w, h);
    this.#shown.drawImage(this.#renderer.domElement, 0, 0, w, h);
  }
}

/**
 * The 3-D view: draws when something changed, never otherwise. While the view is dragged and drawing
 * takes long, it is drawn with fewer pixels and links and sharpened when it rests. A picture at rest is
 * drawn in as many steps as the device needs, so that the page answers in between.
 */
import {
  AmbientLight,
  DirectionalLight,
  PerspectiveCamera,
  Scene,
  Vector3,
  WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/addons/controls/OrbitControls.js';
import { Beads, Pass } from './beads.js';
import { Bodies } from './bodies.js';
import { Cloud, scaleEnd } from './cloud.js';
import { Marker } from './marker.js';
import type { Model } from './model.js';
import { SkinMesh } from './skin.js';
import type { State } from './store.js';

/** Where pictures follow each other more slowly than this, they are drawn coarser while something moves, ms. */
const SLOW = 45;
/** A step of a picture at rest should take about so long, ms. */
const STEP = 60;
/** After so long without a change the view rests, ms. */
const REST = 160;

export class View {
  readonly camera = new PerspectiveCamera(32, 1, 1, 4000);
  readonly beads: Beads;
  readonly bodies: Bodies;
  readonly skin: SkinMesh;
  readonly cloud: Cloud | undefined;
  /** The shape error at the ends of its scale, mm. */
  readonly mostError: number;
  readonly marker: Marker;
  readonly controls: OrbitControls;
  /** Pictures drawn so far. */
  drawn = 0;
  readonly #renderer: WebGLRenderer;
  readonly #scene = new Scene();
  readonly #box: HTMLElement;
  readonly #centre = new Vector3();
  #radius = 50;
  #coarse = 1;
  #moving = false;
  /** Slow pictures in a row, and when the last one began, ms. */
  #slow = 0;
  #before = Infinity;
  #asked = false;
  #rest = 0;
  /** The next step of the picture in work, how many are drawn at once, and when the last ones were, ms. */
  #step = 0;
  #atOnce = 1;
  #stepped = 0;
  /** Whether this device has been seen to draw slowly. */
  #sluggish = false;

  /** @throws where the browser gives no WebGL */
  constructor(canvas: HTMLCanvasElement, model: Model) {
    this.#renderer = new WebGLRenderer({
      canvas,
      antialias: true,
      alpha: true,
      // Steps of a picture are drawn over what is there.
      preserveDrawingBuffer: true,
    });
    this.#box = canvas.parentElement!;
    this.camera.up.set(0, 0, 1);
    this.bodies = new Bodies(model.machine);
    this.beads = new Beads(model);
    this.skin = new SkinMesh(model);
    this.marker = new Marker();
    this.mostError = model.samples ? scaleEnd(model.samples.error) : 0;
    this.cloud = model.samples && new Cloud(model.samples, this.mostError);
    if (this.cloud) this.bodies.part.add(this.cloud.points);
    this.bodies.part.add(this.beads.group, this.skin.mesh, this.marker.group);
    for (const over of [this.skin.mesh, this.cloud?.points, this.marker.group]) {
      over?.traverse((thing) => thing.layers.set(Pass.over));
    }
    const light = new DirectionalLight(0xffffff, 1.7);
    light.position.set(-0.6, 0.9, 1);
    this.camera.add(light);
    const ambient = new AmbientLight(0xffffff, 1.6);
    light.layers.enableAll();
    ambient.layers.enableAll();
    this.#scene.add(this.bodies.root, this.camera, ambient);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.zoomToCursor = true;
    this.controls.addEventListener('change', () => this.moved());
    this.#measure(model);
    new ResizeObserver(() => this.#resize()).observe(this.#box);
    this.#resize();
    this.home();
  }

  /** Looks at the whole part from the front, a little from above. */
  home(): void {
    this.lookFrom(new Vector3(-0.55, -1, 0.55), this.#centre, this.#radius * 3.35);
  }

  lookFrom(direction: Vector3, at: Vector3, distance: number): void {
    const narrow = Math.max(1, 1.05 / this.camera.aspect);
    this.controls.target.copy(at);
    this.camera.position
      .copy(direction)
      .normalize()
      .multiplyScalar(distance * narrow)
      .add(at);
    this.controls.update();
    this.moved();
  }

  /** Comes near a place of the part from where it is seen now. */
  approach(at: Vector3): void {
    const seen = this.camera.position.clone().sub(this.controls.target);
    if (seen.lengthSq() < 1e-9) seen.set(-0.5, -1, 0.6);
    this.lookFrom(seen, at, Math.max(18, this.#radius * 1.1));
  }

  /** Turns about the target, rad, or comes nearer by a factor. */
  orbit(azimuth: number, polar: number, zoom = 1): void {
    const offset = this.camera.position.clone().sub(this.controls.target);
    const long = offset.length() * zoom;
    const flat = Math.atan2(offset.y, offset.x) + azimuth;
    const high = Math.acos(Math.max(-1, Math.min(1, offset.z / offset.length()))) + polar;
    const h = Math.max(0.02, Math.min(Math.PI - 0.02, high));
    offset.set(Math.sin(h) * Math.cos(flat), Math.sin(h) * Math.sin(flat), Math.cos(h));
    this.camera.position.copy(this.controls.target).addScaledVector(offset, long);
    this.controls.update();
    this.moved();
  }

  apply(state: State): void {
    this.bodies.show(state.machine);
    this.skin.mesh.visible = state.skin === 'clear';
    if (this.cloud) this.cloud.points.visible = state.skin === 'error';
    this.beads.group.visible = state.skin !== 'error';
    this.draw();
  }

  /** Something moves: may be drawn coarser until it rests. */
  moved(): void {
    clearTimeout(this.#rest);
    this.#moving = true;
    if (this.#sluggish && this.#coarse === 1) this.#coarsen();
    this.#rest = window.setTimeout(() => this.#settle(), REST);
    this.draw();
  }

  /** Begins a new picture. */
  draw(): void {
    this.#step = 0;
    this.#ask();
  }

  #ask(): void {
    if (this.#asked) return;
    this.#asked = true;
    requestAnimationFrame((began) => {
      this.#asked = false;
      this.#drawSteps(began);
    });
  }

  /** Draws the next steps of the picture; while something moves, all of them. */
  #drawSteps(began: number): void {
    const { beads, camera } = this;
    const from = this.#step;
    if (from > 0) this.#pace(began);
    const to = this.#moving ? Infinity : from + this.#atOnce;
    const done = to >= beads.steps;
    beads.step(from, to);
    camera.layers.set(Pass.beads);
    if (from === 0) camera.layers.enable(Pass.bodies);
    if (done) camera.layers.enable(Pass.over);
    this.#renderer.autoClear = from === 0;
    this.#renderer.render(this.#scene, camera);
    this.#stepped = began;
    if (done) {
      this.#step = 0;
      this.drawn++;
      this.#adapt(began);
    } else {
      this.#step = to;
      this.#ask();
    }
  }

  /** More steps at once where they are quick, fewer where they are not. */
  #pace(began: number): void {
    const lasted = began - this.#stepped;
    if (lasted < STEP / 2) this.#atOnce *= 2;
    else if (lasted > STEP) {
      if (this.#atOnce === 1) this.#sluggish = true;
      this.#atOnce = Math.max(1, this.#atOnce / 2);
    }
  }

  #settle(): void {
    this.#moving = false;
    this.#slow = 0;
    this.#before = Infinity;
    if (this.#coarse === 1) return;
    this.#coarse = 1;
    this.beads.coarser(false);
    this.#resize();
  }

  /** Time from picture to picture, for a graphics card says nothing of how long it draws. */
  #adapt(began: number): void {
    if (!this.#moving) return;
    this.#slow = began - this.#before > SLOW ? this.#slow + 1 : 0;
    this.#before = began;
    if (this.#slow < 3 || this.#coarse > 1) return;
    this.#coarsen();
  }

  #coarsen(): void {
    this.#sluggish = true;
    this.#coarse = 2;
    this.beads.coarser(true);
    this.#resize();
  }

  #resize(): void {
    const { clientWidth: w, clientHeight: h } = this.#box;
    if (!(w > 0 && h > 0)) return;
    const ratio = Math.min(2, window.devicePixelRatio) / this.#coarse;
    this.#renderer.setPixelRatio(ratio);
    this.#renderer.setSize(w, h, false);
    this.camera.aspect = w / h;
    this.camera.updateProjectionMatrix();
    this.beads.viewport(w * ratio, h * ratio);
    this.cloud?.viewport(w * ratio, h * ratio);
    this.draw();
  }

  #measure({ skin }: Model): void {
    const least = new Vector3(Infinity, Infinity, Infinity);
    const most = new Vector3(-Infinity, -Infinity, -Infinity);
    const p = new Vector3();
    for (let i = 0; i < skin.vertices.length; i += 3) {
      p.fromArray(skin.vertices, i);
      least.min(p);
      most.max(p);
    }
    if (!(least.x <= most.x)) return;
    this.#centre.addVectors(least, most).multiplyScalar(0.5);
    this.#radius = least.distanceTo(most) / 2;
  }
}

/** The 3-D view: the scene of part, machine and beads, and its camera. */
import {
  AmbientLight,
  DirectionalLight,
  type Group,
  PerspectiveCamera,
  Scene,
  Vector3,
} from 'three';
import { OrbitControls } from 'three/addons/controls/OrbitControls.js';
import { BeadsView, Pass } from './beads.js';
import { Bodies } from './bodies.js';
import { Cloud, scaleEnd } from './cloud.js';
import { Frames } from './frames.js';
import { Marker } from './marker.js';
import type { PageModel } from './model.js';
import { pinsOf } from './pins.js';
import { SkinMesh } from './skin.js';
import type { PlayerState } from './store.js';

export class SceneView {
  readonly camera = new PerspectiveCamera(32, 1, 1, 4000);
  readonly beads: BeadsView;
  readonly bodies: Bodies;
  readonly skin: SkinMesh;
  readonly cloud: Cloud | undefined;
  /** The shape error at the ends of its scale, mm. */
  readonly mostError: number;
  readonly marker: Marker;
  /** Dots at the findings. */
  readonly pins: Group;
  readonly controls: OrbitControls;
  readonly frames: Frames;
  readonly #scene = new Scene();
  readonly #centre = new Vector3();
  #radius = 50;

  /**
   * @param refining called with whether a finer picture than the one on the page is in work
   * @throws where the browser gives no WebGL 2
   */
  constructor(canvas: HTMLCanvasElement, model: PageModel, refining: (yes: boolean) => void) {
    this.camera.up.set(0, 0, 1);
    this.bodies = new Bodies(model.machine);
    this.beads = new BeadsView(model);
    this.skin = new SkinMesh(model);
    this.marker = new Marker();
    this.pins = pinsOf(model);
    this.mostError = model.samples ? scaleEnd(model.samples.error) : 0;
    this.cloud = model.samples && new Cloud(model.samples, this.mostError);
    if (this.cloud) this.bodies.part.add(this.cloud.points);
    this.bodies.part.add(this.beads.group, this.skin.mesh, this.pins, this.marker.group);
    for (const over of [this.skin.mesh, this.cloud?.points, this.pins, this.marker.group]) {
      over?.traverse((thing) => thing.layers.set(Pass.over));
    }
    const light = new DirectionalLight(0xffffff, 1.7);
    light.position.set(-0.6, 0.9, 1);
    this.camera.add(light);
    const ambient = new AmbientLight(0xffffff, 1.6);
    light.layers.enableAll();
    ambient.layers.enableAll();
    this.#scene.add(this.bodies.root, this.camera, ambient);
    const sized = (width: number, height: number): void => {
      this.beads.viewport(width, height);
      this.cloud?.viewport(width, height);
    };
    this.frames = new Frames(canvas, this.#scene, this.camera, this.beads, sized, refining);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.zoomToCursor = true;
    this.controls.addEventListener('change', () => this.frames.move());
    this.#measure(model);
    const box = canvas.parentElement!;
    new ResizeObserver(() => this.#resize(box)).observe(box);
    this.#resize(box);
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
    this.frames.move();
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
    this.frames.move();
  }

  apply(state: PlayerState): void {
    this.bodies.show(state.machine);
    this.skin.mesh.visible = state.skin === 'clear';
    if (this.cloud) this.cloud.points.visible = state.skin === 'error';
    this.beads.group.visible = state.skin !== 'error';
    this.pins.visible = state.mode === 'finding';
    this.frames.hold(state.playing);
    this.frames.change();
  }

  #resize({ clientWidth: w, clientHeight: h }: HTMLElement): void {
    if (!(w > 0 && h > 0)) return;
    this.camera.aspect = w / h;
    this.camera.updateProjectionMatrix();
    this.frames.resize(w, h);
  }

  #measure({ skin }: PageModel): void {
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

/** The 3-D view of a machine: its bodies, the axis arrows, the cap of directions and the work room. */
import {
  AmbientLight,
  BufferGeometry,
  Color,
  CylinderGeometry,
  DirectionalLight,
  DoubleSide,
  LineBasicMaterial,
  LineLoop,
  Mesh,
  MeshBasicMaterial,
  PerspectiveCamera,
  Scene,
  SphereGeometry,
  Vector3,
  WebGLRenderer,
} from 'three';
import { OrbitControls } from 'three/addons/controls/OrbitControls.js';
import { applyPoint } from '../../../base/frame.js';
import { sizeOfTable } from '../../../commission/joint-arrows.js';
import { headTop } from '../../../machine/head.js';
import { machineFromHead } from '../../../machine/joint-chain.js';
import type { Machine } from '../../../machine/machine.js';
import type { TiltReach } from '../../../machine/reachable-directions.js';
import { Bodies } from '../bodies.js';
import { AxisArrows } from './arrows.js';

const RING_STEPS = 96;

export class MachineView {
  /** Pictures drawn so far. */
  drawn = 0;
  readonly arrows: AxisArrows;
  readonly #renderer: WebGLRenderer;
  readonly #scene = new Scene();
  readonly #camera = new PerspectiveCamera(32, 1, 5, 8000);
  readonly #controls: OrbitControls;
  readonly #bodies: Bodies;
  readonly #size: number;
  readonly #whole: { readonly centre: Vector3; readonly radius: number };
  readonly #cap: Mesh<BufferGeometry, MeshBasicMaterial>;
  readonly #ring: LineLoop<BufferGeometry, LineBasicMaterial>;
  readonly #room: Mesh<BufferGeometry, MeshBasicMaterial>;
  #asked = false;

  /** @throws where the browser gives no WebGL 2 */
  constructor(canvas: HTMLCanvasElement, machine: Machine, reach: TiltReach) {
    this.#size = sizeOfTable(machine);
    this.#whole = wholeOf(machine, this.#size);
    this.#renderer = new WebGLRenderer({
      canvas,
      antialias: true,
      alpha: true,
      preserveDrawingBuffer: true,
    });
    this.#camera.up.set(0, 0, 1);
    this.#bodies = new Bodies(machine);
    this.arrows = new AxisArrows(machine);
    this.#cap = clear(
      new SphereGeometry(1.3 * this.#size, 64, 32, 0, 2 * Math.PI, 0, reach.everyTilt),
      0.18,
    );
    this.#cap.geometry.rotateX(Math.PI / 2);
    this.#ring = this.#ringAt(reach.greatestTilt);
    this.#room = clear(new CylinderGeometry(1, 1, 1, RING_STEPS), 0.28);
    this.#bodies.part.add(this.#cap, this.#ring, this.#room);
    const light = new DirectionalLight(0xffffff, 1.7);
    light.position.set(-0.6, 0.9, 1);
    this.#camera.add(light);
    this.#scene.add(
      this.#bodies.root,
      this.arrows.group,
      this.#camera,
      new AmbientLight(0xffffff, 1.6),
    );
    this.#controls = new OrbitControls(this.#camera, canvas);
    this.#controls.addEventListener('change', () => this.draw());
    this.recolour();
    const box = canvas.parentElement!;
    new ResizeObserver(() => this.#resize(box)).observe(box);
    this.#resize(box);
    this.home();
  }

  pose(joints: Float64Array): void {
    this.#bodies.pose(joints, 'frame');
    this.arrows.pose(joints);
    this.draw();
  }

  show(what: { readonly arrows: boolean; readonly reach: boolean; readonly room: boolean }): void {
    this.arrows.group.visible = what.arrows;
    this.#cap.visible = this.#ring.visible = what.reach;
    this.#room.visible = what.room && this.#room.scale.x > 0;
    this.draw();
  }

  /** The work room as a cylinder on the table, mm. */
  room(across: number, height: number): void {
    const r = Math.min(across, 8 * this.#size) / 2;
    // Cylinders of three stand along Y; the part's Z is up.
    this.#room.rotation.x = Math.PI / 2;
    this.#room.scale.set(r, height, r);
    this.#room.position.set(0, 0, height / 2);
  }

  home(): void {
    const { centre, radius } = this.#whole;
    const narrow = Math.max(1, 1 / this.#camera.aspect);
    this.#controls.target.copy(centre);
    this.#camera.position
      .set(-0.5, -1, 0.5)
      .normalize()
      .multiplyScalar((radius / Math.sin((this.#camera.fov / 2) * (Math.PI / 180))) * narrow)
      .add(centre);
    this.#controls.update();
    this.draw();
  }

  /** Turns about the target, rad, or comes nearer by a factor. */
  orbit(azimuth: number, polar: number, zoom = 1): void {
    const offset = this.#camera.position.clone().sub(this.#controls.target);
    const long = offset.length() * zoom;
    const flat = Math.atan2(offset.y, offset.x) + azimuth;
    const high = Math.acos(Math.max(-1, Math.min(1, offset.z / offset.length()))) + polar;
    const h = Math.max(0.02, Math.min(Math.PI - 0.02, high));
    offset.set(Math.sin(h) * Math.cos(flat), Math.sin(h) * Math.sin(flat), Math.cos(h));
    this.#camera.position.copy(this.#controls.target).addScaledVector(offset, long);
    this.#controls.update();
    this.draw();
  }

  /** Colours of the page, light or dark. */
  recolour(): void {
    const page = getComputedStyle(document.documentElement);
    const of = (name: string): string => page.getPropertyValue(name).trim();
    this.#bodies.recolour({ head: of('--head'), table: of('--table'), frame: of('--frame') });
    this.#cap.material.color = this.#ring.material.color = new Color(of('--reach'));
    this.#room.material.color = new Color(of('--room'));
    this.draw();
  }

  /** The view as a PNG's data address. */
  picture(): string {
    this.#render();
    return this.#renderer.domElement.toDataURL();
  }

  draw(): void {
    if (this.#asked) return;
    this.#asked = true;
    requestAnimationFrame(() => {
      this.#asked = false;
      this.#render();
    });
  }

  #render(): void {
    this.#renderer.render(this.#scene, this.#camera);
    this.drawn++;
  }

  /** Where the head's direction comes to at a tilt, in the part frame. */
  #ringAt(tilt: number): LineLoop<BufferGeometry, LineBasicMaterial> {
    const [r, z] = [1.3 * this.#size * Math.sin(tilt), 1.3 * this.#size * Math.cos(tilt)];
    const points = Array.from({ length: RING_STEPS }, (_, i) => {
      const a = (2 * Math.PI * i) / RING_STEPS;
      return new Vector3(r * Math.cos(a), r * Math.sin(a), z);
    });
    return new LineLoop(new BufferGeometry().setFromPoints(points), new LineBasicMaterial());
  }

  #resize({ clientWidth: w, clientHeight: h }: HTMLElement): void {
    if (!(w > 0 && h > 0)) return;
    this.#camera.aspect = w / h;
    this.#camera.updateProjectionMatrix();
    this.#renderer.setPixelRatio(Math.min(2, window.devicePixelRatio));
    this.#renderer.setSize(w, h, false);
    this.draw();
  }
}

function clear(geometry: BufferGeometry, opacity: number): Mesh<BufferGeometry, MeshBasicMaterial> {
  const mesh = new Mesh(
    geometry,
    new MeshBasicMaterial({ transparent: true, opacity, depthWrite: false, side: DoubleSide }),
  );
  mesh.renderOrder = 2;
  return mesh;
}

/** A ball around table and head at the ready place; the frame may reach out of it. */
function wholeOf(machine: Machine, size: number): { centre: Vector3; radius: number } {
  const table = new Vector3(...machine.origin);
  const [x, y, z] = applyPoint(machineFromHead(machine, machine.ready), [0, 0, headTop(machine)]);
  const head = new Vector3(x, y, z);
  const centre = table.clone().add(head).multiplyScalar(0.5);
  return { centre, radius: table.distanceTo(head) / 2 + 0.9 * size };
}

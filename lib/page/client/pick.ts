/**
 * A click on a bead goes to the moment at which it is laid: the shown bead nearest to the pointer on
 * the screen.
 */
import { Matrix4, Vector3 } from 'three';
import { TraceKind } from '../../verify/trace.js';
import type { PageModel } from './model.js';
import type { Player } from './player.js';
import type { SceneView } from './scene.js';
import type { Store } from './store.js';

/** A press that moves farther turns the view, pixels. */
const PRESS_PIXELS = 4;
/** How near a bead's line must pass, pixels. */
const PICK_PIXELS = 7;

export function listenPicks(
  canvas: HTMLCanvasElement,
  view: SceneView,
  model: PageModel,
  store: Store,
  player: Player,
): void {
  let down: readonly [number, number] | undefined;
  canvas.addEventListener('pointerdown', (e) => {
    down = [e.clientX, e.clientY];
  });
  canvas.addEventListener('pointerup', (e) => {
    if (!down || Math.hypot(e.clientX - down[0], e.clientY - down[1]) > PRESS_PIXELS) return;
    const box = canvas.getBoundingClientRect();
    const b = beadAt(view, model, store, [e.clientX - box.left, e.clientY - box.top], box);
    if (b >= 0) player.seek(model.end[b]!);
  });
}

/** @returns block, or -1 */
function beadAt(
  view: SceneView,
  model: PageModel,
  { state }: Store,
  [px, py]: readonly [number, number],
  { width, height }: { readonly width: number; readonly height: number },
): number {
  view.camera.updateMatrixWorld();
  view.bodies.root.updateMatrixWorld(true);
  const m = new Matrix4()
    .multiplyMatrices(view.camera.projectionMatrix, view.camera.matrixWorldInverse)
    .multiply(view.beads.group.matrixWorld);
  const last = model.blockAt(state.time);
  const layer = model.layers[model.layerOf[last] ?? 0];
  const a = new Vector3();
  const b = new Vector3();
  let best = -1;
  let nearest = Infinity;
  for (let i = state.alone && layer ? layer.from : 0; i <= last; i++) {
    if (model.kind[i] !== TraceKind.deposit) continue;
    toScreen(a.fromArray(model.tips, 3 * i).applyMatrix4(m), width, height);
    toScreen(b.fromArray(model.tips, 3 * i + 3).applyMatrix4(m), width, height);
    const depth = (a.z + b.z) / 2;
    if (depth < nearest && distance(px, py, a, b) < PICK_PIXELS) [best, nearest] = [i, depth];
  }
  return best;
}

function toScreen(p: Vector3, width: number, height: number): void {
  p.set(((p.x + 1) / 2) * width, ((1 - p.y) / 2) * height, p.z);
}

function distance(x: number, y: number, a: Vector3, b: Vector3): number {
  const dx = b.x - a.x;
  const dy = b.y - a.y;
  const size = dx * dx + dy * dy;
  const t = size > 0 ? Math.max(0, Math.min(1, ((x - a.x) * dx + (y - a.y) * dy) / size)) : 0;
  return Math.hypot(x - a.x - t * dx, y - a.y - t * dy);
}

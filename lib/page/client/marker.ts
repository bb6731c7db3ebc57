/**
 * A ring and a dot at the place of a finding: seen through everything, of one size on the screen at any
 * distance.
 */
import { CanvasTexture, Group, Sprite, SpriteMaterial, type Vector3 } from 'three';

const MARKER_PIXELS = 96;

export class Marker {
  readonly group = new Group();
  readonly #sprite: Sprite;

  constructor() {
    const material = new SpriteMaterial({
      map: new CanvasTexture(ring()),
      depthTest: false,
      sizeAttenuation: false,
    });
    this.#sprite = new Sprite(material);
    this.#sprite.scale.setScalar(0.045);
    this.#sprite.renderOrder = 10;
    this.group.add(this.#sprite);
    this.group.visible = false;
  }

  put(at: Vector3 | undefined): void {
    this.group.visible = at !== undefined;
    if (at) this.#sprite.position.copy(at);
  }
}

function ring(): HTMLCanvasElement {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = MARKER_PIXELS;
  const c = canvas.getContext('2d')!;
  for (const [width, colour] of [
    [16, '#ffffff'],
    [8, '#000000'],
  ] as const) {
    c.lineWidth = width;
    c.strokeStyle = colour;
    c.beginPath();
    c.arc(MARKER_PIXELS / 2, MARKER_PIXELS / 2, MARKER_PIXELS / 2 - 12, 0, 2 * Math.PI);
    c.stroke();
  }
  return canvas;
}

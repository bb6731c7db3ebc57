/**
 * A dot at the place of every finding, in the colour of its severity: seen through everything and of
 * one size on the screen at any distance, for the bead of a finding is often shorter than a pixel.
 */
import { CanvasTexture, Group, SRGBColorSpace, Sprite, SpriteMaterial } from 'three';
import { css } from '../../draw/palette.js';
import { SEVERITY } from './colours.js';
import { placeOf } from './findings.js';
import type { PageModel } from './model.js';

/** Edge of the picture of a dot, pixels; and height of a dot as a share of the view's, worst last. */
const DOT_PIXELS = 64;
const DOT_SHARE = { note: 0.016, warning: 0.022, error: 0.028 } as const;

/** @returns a group of one sprite for each finding that has a place */
export function pinsOf(model: PageModel): Group {
  const group = new Group();
  group.visible = false;
  (['note', 'warning', 'error'] as const).forEach((severity, order) => {
    const map = new CanvasTexture(dot(css(SEVERITY[severity]!)));
    map.colorSpace = SRGBColorSpace;
    const material = new SpriteMaterial({ map, depthTest: false, sizeAttenuation: false });
    for (const finding of model.head.findings) {
      const place = finding.severity === severity && placeOf(model, finding);
      if (!place) continue;
      const sprite = new Sprite(material);
      sprite.position.copy(place);
      sprite.scale.setScalar(DOT_SHARE[severity]);
      sprite.renderOrder = 5 + order;
      group.add(sprite);
    }
  });
  return group;
}

function dot(colour: string): HTMLCanvasElement {
  const canvas = document.createElement('canvas');
  canvas.width = canvas.height = DOT_PIXELS;
  const c = canvas.getContext('2d')!;
  c.beginPath();
  c.arc(DOT_PIXELS / 2, DOT_PIXELS / 2, DOT_PIXELS / 2 - 6, 0, 2 * Math.PI);
  c.fillStyle = colour;
  c.fill();
  c.lineWidth = 8;
  c.strokeStyle = '#ffffff';
  c.stroke();
  return canvas;
}

/**
 * Shape error where it was measured: every sample of the part's surface as a small disc of its colour,
 * lit by the surface normal there. Nothing is interpolated between samples.
 */
import { BufferAttribute, BufferGeometry, GLSL3, Points, RawShaderMaterial, Vector2 } from 'three';
import { diverging } from '../../draw/diverging.js';
import type { SurfaceSamples } from './model.js';

const vertex = /* glsl */ `
precision highp float;
uniform mat4 modelViewMatrix, projectionMatrix;
uniform mat3 normalMatrix;
uniform vec2 viewport;
uniform float width;
in vec3 position, normal, color;
out vec3 tint;
void main() {
  vec4 here = modelViewMatrix * vec4(position, 1.0);
  gl_Position = projectionMatrix * here;
  gl_PointSize = max(2.0, width * projectionMatrix[1][1] * 0.5 * viewport.y / -here.z);
  vec3 n = normalize(normalMatrix * normal);
  float key = max(0.0, dot(n, normalize(vec3(-0.45, 0.65, 0.62))));
  tint = color * (0.62 + 0.1 * n.y + 0.34 * key);
}`;

const fragment = /* glsl */ `
precision highp float;
in vec3 tint;
out vec4 pixel;
void main() {
  vec2 at = gl_PointCoord - 0.5;
  if (dot(at, at) > 0.25) discard;
  pixel = vec4(tint, 1.0);
}`;

export class Cloud {
  readonly points: Points;
  readonly #material: RawShaderMaterial;

  /** @param most the error at the ends of the scale, mm */
  constructor({ points, normals, error, spacing }: SurfaceSamples, most: number) {
    const geometry = new BufferGeometry();
    const colours = new Uint8Array(3 * error.length);
    error.forEach((e, i) => colours.set(diverging(e / most), 3 * i));
    geometry.setAttribute('position', new BufferAttribute(points, 3));
    geometry.setAttribute('normal', new BufferAttribute(normals, 3));
    geometry.setAttribute('color', new BufferAttribute(colours, 3, true));
    this.#material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: vertex,
      fragmentShader: fragment,
      uniforms: { viewport: { value: new Vector2(1, 1) }, width: { value: 2 * spacing } },
    });
    this.points = new Points(geometry, this.#material);
    this.points.frustumCulled = false;
    this.points.visible = false;
  }

  viewport(width: number, height: number): void {
    (this.#material.uniforms['viewport']!.value as Vector2).set(width, height);
  }
}

/** The 98th percentile of the samples, at least 0.05 mm. */
export function scaleEnd(error: Float32Array): number {
  const sizes = Float32Array.from(error, Math.abs).sort();
  return Math.max(0.05, sizes[Math.floor(0.98 * sizes.length)] ?? 0);
}

/**
 * Beads and moves as one instanced mesh: each block is a strip that faces the viewer, as wide as its
 * bead looks from there and shaded as if it were round. Tips, widths, colours and build directions go
 * in; one draw call comes out. Of two ways tried (boxes of 12 triangles, strips of 2) strips cost a
 * sixth of the triangles and look rounder.
 */
import {
  BufferAttribute,
  DataTexture,
  FloatType,
  GLSL3,
  InstancedBufferAttribute,
  InstancedBufferGeometry,
  InstancedInterleavedBuffer,
  InterleavedBufferAttribute,
  Mesh,
  NearestFilter,
  RawShaderMaterial,
  RGBAFormat,
  Vector2,
} from 'three';
import { TraceKind } from '../../verify/trace.js';
import type { Model } from './model.js';

/** Widths are stored in steps of this, mm. */
const STEP = 0.02;

const vertex = /* glsl */ `
precision highp float;
precision highp int;
uniform mat4 modelViewMatrix, projectionMatrix;
uniform mat3 normalMatrix;
uniform highp sampler2D directions;
uniform vec2 viewport;
uniform float first, last, share, moves, thin;
in vec2 corner;
in vec3 begin, end;
in vec4 colour;
in vec4 size;
out vec3 tint;
out vec3 side, facing;
out float across;
void main() {
  float id = float(gl_InstanceID);
  float kind = size.w;
  bool lays = kind < 0.5;
  if (id < first || id > last || (!lays && (moves < 0.5 || kind > 2.5))) {
    gl_Position = vec4(2.0, 2.0, 2.0, 1.0);
    return;
  }
  vec3 stop = id > last - 0.5 ? mix(begin, end, share) : end;
  vec3 up = texelFetch(directions, ivec2(int(size.z + 0.5), 0), 0).xyz;
  float halfWide = lays ? 0.5 * size.x * ${STEP.toFixed(2)} : 0.0;
  float halfHigh = lays ? 0.5 * size.y * ${STEP.toFixed(2)} : 0.0;
  vec3 a = (modelViewMatrix * vec4(begin - up * halfHigh, 1.0)).xyz;
  vec3 b = (modelViewMatrix * vec4(stop - up * halfHigh, 1.0)).xyz;
  vec3 along = b - a;
  float reach = length(along);
  along = reach > 1e-6 ? along / reach : vec3(1.0, 0.0, 0.0);
  vec3 here = mix(a, b, corner.x);
  vec3 sight = normalize(-here);
  vec3 s = cross(along, sight);
  s = length(s) > 1e-4 ? normalize(s) : vec3(0.0, 1.0, 0.0);
  vec3 upView = normalize(normalMatrix * up);
  vec3 flank = cross(upView, along);
  flank = length(flank) > 1e-4 ? normalize(flank) : s;
  float extent = length(vec2(halfWide * dot(s, flank), halfHigh * dot(s, upView)));
  float pixel = -here.z / (projectionMatrix[1][1] * 0.5 * viewport.y);
  extent = max(extent, (lays ? thin : 0.5) * pixel);
  float over = lays ? min(extent, halfWide) * 0.7 : 0.0;
  here += along * over * (corner.x * 2.0 - 1.0) + s * extent * corner.y;
  gl_Position = projectionMatrix * vec4(here, 1.0);
  tint = colour.rgb;
  side = s;
  facing = normalize(cross(s, along) * sign(dot(cross(s, along), sight)));
  across = lays ? corner.y : 2.0;
}`;

const fragment = /* glsl */ `
precision highp float;
in vec3 tint;
in vec3 side, facing;
in float across;
out vec4 pixel;
void main() {
  if (across > 1.5) { pixel = vec4(tint, 1.0); return; }
  vec3 n = normalize(side * across + facing * sqrt(max(0.0, 1.0 - across * across)));
  float key = max(0.0, dot(n, normalize(vec3(-0.45, 0.65, 0.62))));
  float fill = 0.5 + 0.5 * n.y;
  float edge = 1.0 - 0.25 * across * across;
  pixel = vec4(tint * (0.46 + 0.16 * fill + 0.46 * key) * edge, 1.0);
}`;

/** What colours a block: red, green, blue, 0 to 255, written at `at`. */
export type Paint = (b: number, out: Uint8Array, at: number) => void;

export class Beads {
  readonly mesh: Mesh;
  readonly #model: Model;
  readonly #material: RawShaderMaterial;
  readonly #geometry = new InstancedBufferGeometry();
  readonly #colour: InstancedBufferAttribute;

  constructor(model: Model) {
    this.#model = model;
    const tips = new InstancedInterleavedBuffer(model.tips, 3);
    this.#colour = new InstancedBufferAttribute(new Uint8Array(4 * model.count), 4, true);
    const g = this.#geometry;
    g.setAttribute('corner', new BufferAttribute(new Float32Array([0, -1, 1, -1, 0, 1, 1, 1]), 2));
    g.setIndex([0, 1, 2, 2, 1, 3]);
    g.setAttribute('begin', new InterleavedBufferAttribute(tips, 3, 0));
    g.setAttribute('end', new InterleavedBufferAttribute(tips, 3, 3));
    g.setAttribute('colour', this.#colour);
    g.setAttribute('size', new InstancedBufferAttribute(sizesOf(model), 4));
    g.instanceCount = model.count;
    this.#material = new RawShaderMaterial({
      glslVersion: GLSL3,
      vertexShader: vertex,
      fragmentShader: fragment,
      uniforms: {
        directions: { value: directionTexture(model) },
        viewport: { value: new Vector2(1, 1) },
        first: { value: 0 },
        last: { value: model.count },
        share: { value: 1 },
        moves: { value: 0 },
        thin: { value: 0.6 },
      },
      side: 2,
    });
    this.mesh = new Mesh(g, this.#material);
    this.mesh.frustumCulled = false;
  }

  paint(paint: Paint): void {
    const out = this.#colour.array as Uint8Array;
    for (let b = 0; b < this.#model.count; b++) paint(b, out, 4 * b);
    this.#colour.needsUpdate = true;
  }

  /** Shows blocks first to last, of the last one a share. */
  show(first: number, last: number, share: number, moves: boolean): void {
    const u = this.#material.uniforms;
    u['first']!.value = first;
    u['last']!.value = last;
    u['share']!.value = share;
    u['moves']!.value = moves ? 1 : 0;
    this.#geometry.instanceCount = last + 1;
  }

  viewport(width: number, height: number): void {
    (this.#material.uniforms['viewport']!.value as Vector2).set(width, height);
  }
}

/** Width and height of the bead in steps, run, kind. A number of the run over 255 would need more room. */
function sizesOf(model: Model): Uint16Array {
  const { count, kind, run, layers, layerOf } = model;
  const out = new Uint16Array(4 * count);
  for (let b = 0; b < count; b++) {
    const layer = layers[layerOf[b]!];
    const high = layer?.thickness ?? 0;
    out[4 * b] = Math.min(65535, Math.round(widthOf(model, b, high) / STEP));
    out[4 * b + 1] = Math.round(high / STEP);
    out[4 * b + 2] = run[b]!;
    out[4 * b + 3] = kind[b]!;
  }
  return out;
}

/** Of a bead with flat top and bottom and round flanks: area = (w - h) h + pi h^2 / 4. */
export function widthOf({ kind, tips, volume }: Model, b: number, high: number): number {
  if (kind[b] !== TraceKind.deposit || !(high > 0)) return 0;
  const i = 3 * b;
  const long = Math.hypot(
    tips[i + 3]! - tips[i]!,
    tips[i + 4]! - tips[i + 1]!,
    tips[i + 5]! - tips[i + 2]!,
  );
  if (!(long > 0)) return 0;
  const wide = volume[b]! / long / high + high * (1 - Math.PI / 4);
  return Math.min(3, wide);
}

function directionTexture({ runDirection }: Model): DataTexture {
  const runs = Math.max(1, runDirection.length / 3);
  const data = new Float32Array(4 * runs);
  for (let r = 0; r < runs; r++) data.set(runDirection.subarray(3 * r, 3 * r + 3), 4 * r);
  const texture = new DataTexture(data, runs, 1, RGBAFormat, FloatType);
  texture.minFilter = texture.magFilter = NearestFilter;
  texture.needsUpdate = true;
  return texture;
}

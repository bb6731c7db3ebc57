/**
 * Growing typed arrays. Records keep ragged data flat: values in one array and an offset table `start`,
 * so that row i is `start[i] .. start[i + 1]`. Lists here grow by doubling and give an exact copy at
 * the end.
 */
type Numbers = Float64Array | Uint32Array | Int32Array | Uint8Array;
type Maker<T extends Numbers> = new (length: number) => T;

export class List<T extends Numbers> {
  #values: T;
  #length = 0;
  readonly #make: Maker<T>;

  constructor(make: Maker<T>, capacity = 64) {
    this.#make = make;
    this.#values = new make(capacity);
  }

  get length(): number {
    return this.#length;
  }

  at(i: number): number {
    return this.#values[i]!;
  }

  push(value: number): void {
    if (this.#length === this.#values.length) this.#grow(this.#length + 1);
    this.#values[this.#length++] = value;
  }

  push2(a: number, b: number): void {
    this.push(a);
    this.push(b);
  }

  push3(a: number, b: number, c: number): void {
    this.push(a);
    this.push(b);
    this.push(c);
  }

  append(values: ArrayLike<number>): void {
    const need = this.#length + values.length;
    if (need > this.#values.length) this.#grow(need);
    this.#values.set(values, this.#length);
    this.#length = need;
  }

  /** Forgets what was pushed beyond a length. */
  cut(length: number): void {
    this.#length = Math.min(this.#length, length);
  }

  /** What was pushed from a place on; good until the next push. */
  from(place: number): T {
    return this.#values.subarray(place, this.#length) as T;
  }

  /** Exchanges two pairs. */
  swap2(a: number, b: number): void {
    const v = this.#values;
    [v[a], v[b]] = [v[b]!, v[a]!];
    [v[a + 1], v[b + 1]] = [v[b + 1]!, v[a + 1]!];
  }

  /** An exact copy of what was pushed. */
  take(): T {
    return this.#values.slice(0, this.#length) as T;
  }

  #grow(need: number): void {
    const next = new this.#make(Math.max(need, this.#values.length * 2));
    next.set(this.#values);
    this.#values = next;
  }
}

export const float64List = (capacity?: number): List<Float64Array> =>
  new List(Float64Array as Maker<Float64Array>, capacity);
export const int32List = (capacity?: number): List<Int32Array> =>
  new List(Int32Array as Maker<Int32Array>, capacity);
export const uint32List = (capacity?: number): List<Uint32Array> =>
  new List(Uint32Array as Maker<Uint32Array>, capacity);
export const uint8List = (capacity?: number): List<Uint8Array> =>
  new List(Uint8Array as Maker<Uint8Array>, capacity);

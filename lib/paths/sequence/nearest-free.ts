/**
 * Nearest-neighbour queries with removal: a k-d tree that gives the nearest point not yet taken. Every
 * node counts the points left below it, so emptied parts are skipped: n queries with removal take about
 * n log n, where a list would take n^2 and a box tree with a filter would visit all that is gone. Equal
 * distances go to the lower number, so the answer depends on nothing but the points.
 */
export interface NearestFree {
  /** Number of the nearest point left, -1 if none. */
  find(x: number, y: number): number;
  take(i: number): void;
  /** Leaves a point out of account until it is shown again. */
  hide(i: number): void;
  show(i: number): void;
}

export function nearestOf(x: Float64Array, y: Float64Array): NearestFree {
  const n = x.length;
  const order = Uint32Array.from({ length: n }, (_, i) => i);
  // Node of range [a, b) is its middle, split along x and y alternately.
  const left = new Int32Array(n);
  const parent = new Int32Array(n).fill(-1);
  const gone = new Uint8Array(n);
  build(order, x, y, 0, n, 0);
  const place = new Uint32Array(n);
  for (let i = 0; i < n; i++) place[order[i]!] = i;
  const link = (a: number, b: number, up: number): void => {
    if (a >= b) return;
    const m = (a + b) >> 1;
    left[m] = b - a;
    parent[m] = up;
    link(a, m, m);
    link(m + 1, b, m);
  };
  link(0, n, -1);

  let best = -1;
  let bestD = Infinity;
  const search = (a: number, b: number, axis: number, px: number, py: number): void => {
    if (a >= b) return;
    const m = (a + b) >> 1;
    if (left[m] === 0) return;
    const i = order[m]!;
    const dx = px - x[i]!;
    const dy = py - y[i]!;
    if (!gone[m]) {
      const d = dx * dx + dy * dy;
      if (d < bestD || (d === bestD && i < best)) {
        bestD = d;
        best = i;
      }
    }
    const side = axis === 0 ? dx : dy;
    if (side < 0) search(a, m, 1 - axis, px, py);
    else search(m + 1, b, 1 - axis, px, py);
    if (side * side <= bestD) {
      if (side < 0) search(m + 1, b, 1 - axis, px, py);
      else search(a, m, 1 - axis, px, py);
    }
  };

  const count = (at: number, away: 0 | 1): void => {
    if (gone[at] === away) return;
    gone[at] = away;
    for (let m = at; m >= 0; m = parent[m]!) left[m]! += away ? -1 : 1;
  };

  return {
    find(px, py) {
      best = -1;
      bestD = Infinity;
      search(0, n, 0, px, py);
      return best;
    },
    take: (i) => count(place[i]!, 1),
    hide: (i) => count(place[i]!, 1),
    show: (i) => count(place[i]!, 0),
  };
}

/** Orders a range so that its middle splits it, recursively; quickselect with the middle as pivot. */
function build(
  order: Uint32Array,
  x: Float64Array,
  y: Float64Array,
  a: number,
  b: number,
  axis: number,
): void {
  if (b - a < 2) return;
  const value = axis === 0 ? x : y;
  const less = (i: number, j: number): boolean =>
    value[i]! < value[j]! || (value[i] === value[j] && i < j);
  const m = (a + b) >> 1;
  let low = a;
  let high = b - 1;
  while (low < high) {
    const pivot = order[(low + high) >> 1]!;
    let i = low;
    let j = high;
    while (i <= j) {
      while (less(order[i]!, pivot)) i++;
      while (less(pivot, order[j]!)) j--;
      if (i <= j) {
        const t = order[i]!;
        order[i++] = order[j]!;
        order[j--] = t;
      }
    }
    if (m <= j) high = j;
    else if (m >= i) low = i;
    else break;
  }
  build(order, x, y, a, m, 1 - axis);
  build(order, x, y, m + 1, b, 1 - axis);
}

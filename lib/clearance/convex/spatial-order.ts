/**
 * Boxes in an order in which those of every aligned run of 4, 16, 64 ... lie close together: the boxes are parted by
 * their middles along the longest side, again and again, each time so that the first part fills whole runs (a k-d tree,
 * Bentley, CACM 18(9), 1975, laid out in its leaves). Cost: n log n.
 */

/** @param boxes centre xyz and half extent xyz of each @returns their numbers in the order */
export function spatialOrder(boxes: Float64Array, count = boxes.length / 6): Uint32Array {
  const order = Uint32Array.from({ length: count }, (_, i) => i);
  part(order, boxes, 0, count);
  return order;
}

function part(order: Uint32Array, boxes: Float64Array, from: number, to: number): void {
  const size = to - from;
  if (size <= 2) return;
  const axis = longestSide(order, boxes, from, to);
  const middle = from + 2 ** (Math.ceil(Math.log2(size)) - 1);
  select(order, boxes, axis, from, to - 1, middle);
  part(order, boxes, from, middle);
  part(order, boxes, middle, to);
}

function longestSide(order: Uint32Array, boxes: Float64Array, from: number, to: number): number {
  const [least, most] = [
    [Infinity, Infinity, Infinity],
    [-Infinity, -Infinity, -Infinity],
  ];
  for (let i = from; i < to; i++) {
    for (let c = 0; c < 3; c++) {
      const x = boxes[6 * order[i]! + c]!;
      if (x < least[c]!) least[c] = x;
      if (x > most[c]!) most[c] = x;
    }
  }
  const [x, y, z] = most.map((m, c) => m - least[c]!) as [number, number, number];
  return x >= y && x >= z ? 0 : y >= z ? 1 : 2;
}

/** Exchanges until no middle before place k is greater than one from it on (Hoare's selection, CACM 4(7), 1961). */
function select(
  order: Uint32Array,
  boxes: Float64Array,
  axis: number,
  first: number,
  last: number,
  k: number,
): void {
  let [low, high] = [first, last];
  const key = (i: number): number => boxes[6 * order[i]! + axis]!;
  while (low < high) {
    const pivot = key((low + high) >> 1);
    let [i, j] = [low, high];
    while (i <= j) {
      while (key(i) < pivot) i++;
      while (key(j) > pivot) j--;
      if (i <= j) {
        [order[i], order[j]] = [order[j]!, order[i]!];
        i++;
        j--;
      }
    }
    if (k <= j) high = j;
    else if (k >= i) low = i;
    else return;
  }
}

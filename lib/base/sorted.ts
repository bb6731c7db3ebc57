/** Binary search in ascending arrays. */

/** First index of a rising array whose value is at least `value`; its length if there is none. */
export function firstAtLeast(values: ArrayLike<number>, value: number): number {
  let low = 0;
  let high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (values[middle]! < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

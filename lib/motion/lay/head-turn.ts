/** Values of the rotary joint nearer to the part and of the other, rad. */
export type HeadTurn = readonly [number, number];

export const turnBetween = (a: HeadTurn, b: HeadTurn, share: number): HeadTurn => [
  a[0] + share * (b[0] - a[0]),
  a[1] + share * (b[1] - a[1]),
];

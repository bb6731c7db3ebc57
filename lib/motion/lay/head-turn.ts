/** Values of the rotary joint nearer to the part and of the other, rad. */
export type HeadTurn = readonly [number, number];

/** Standard acceleration of gravity, m/s2 (CGPM 1901). */
export const GRAVITY = 9.80665;

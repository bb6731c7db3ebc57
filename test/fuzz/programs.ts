/**
 * Small programs for the machines of the samples, spelled here by hand: a box of beads that is laid in
 * two directions, and a page of everything else that RS-274/NGC knows. What is put into them when they
 * are changed stands here as well.
 */

/** Beads of 0.45 x 0.2 mm side by side, 4 x 4 mm, in layers that run along X and along Y in turn. */
function box(layers: number, z0: number): string[] {
  const out: string[] = [];
  for (let k = 0; k < layers; k++) {
    for (let i = 0; i < 9; i++) {
      const [from, to] = i % 2 === 0 ? [0, 4] : [4, 0];
      const off = (0.225 + 0.45 * i).toFixed(3);
      const z = (z0 + 0.2 * (k + 1)).toFixed(2);
      const at = (s: number): string => (k % 2 === 0 ? `X${s} Y${off}` : `X${off} Y${s}`);
      out.push(`G1 ${at(from)} Z${z} F6000`, `G1 ${at(to)} E0.1496 F1800`);
    }
  }
  return out;
}

/** @param tilt letter of the tilting joint, A or B */
export const printed = (tilt: 'A' | 'B'): string =>
  [
    '%',
    'M101 P210',
    'M102 P60',
    'G21 G90 G94 (mm)',
    `G1 X0 Y0 Z60 ${tilt}0 C0 F3000`,
    ...box(3, 0),
    'G1 Z40 F6000',
    `G93 G1 ${tilt}30 C90 F20`,
    'G94',
    ...box(2, 12),
    'G1 E-1 F1200',
    'G4 P0.5',
    `G93 G1 Z80 ${tilt}0 C0 F10`,
    'G94 G1 E1 F300',
    'M101 P0',
    'M2',
    '%',
    '',
  ].join('\n');

export const spelled = `(every kind of block)
N10 G17 G21 G40 G49 G54 G80 G90 G94
G10 L2 P1 X1 Y2 Z3
#1=4.5 #2=[#1*2-1] #3=[[SIN[30]+COS[60]]**2]
G0 X0 Y0 Z20 A0 C0
G1 X[#1] Y#2 Z[10.5 MOD 4] F900
G2 X10 Y0 I5 J0 E0.2 F1200
G3 X0 Y0 R6 E0.2
G3 X0 Y0 I3 J0 Z4 E0.3
G18 G2 X4 Z4 I2 K0 E0.1
G19 G3 Y4 Z8 J2 K0
G17 G91 G1 X1 Y1 E0.05
G90 G92 X0 Y0
G53 G1 X5 Y5 Z5
G92.1
G93 G1 X6 A20 C45 F30
/G1 X100
G94 G20 G1 X0.2 F40
G21 G28 X1
G30
G4 P1.5
G55 G1 X1 Y1 F600
G59.3 G54
G61 G64 P0.01
M3 S1000 M8
M5 M9
G1 X0 Y0 Z10 C720 F3000
M30
`;

/** Lines and words to put in. */
export const SNIPPETS = [
  'G1 C99999999 F600',
  'G1 C360000 F60000',
  'G1 A-89 C180 F600',
  'G1 X9000 Y-9000 E900 F60000',
  'G1 X1 E5000 F60',
  'G1 X2 E0.00001 F1',
  'G1 Z-5 F600',
  'G1 Z0.0001 X3 E0.1 F600',
  'G2 X10 Y0 I5 J0 E1 F500',
  'G3 I9000 J0 E10 F9000',
  'G3 X0.001 Y0 R9999',
  'G2 I0.0001 J0',
  'G4 P1e9',
  'G4 P999999999',
  'G4 P0',
  'G20',
  'G91',
  'G90',
  'G93',
  'G94',
  'G92 X0 Y0 Z0 A0 C0',
  'G92 E0',
  'G92 X1e9',
  'G10 L2 P1 X1000 Z-1000',
  'G54',
  'G59.3',
  'G28',
  'G30 X5',
  'G53 G0 X0',
  'G17',
  'G18',
  'G19',
  'G80',
  '#1=[2**1023*10]',
  '#5221=100',
  '#5161=99999',
  'X#1',
  'X[1/3]',
  'X[[[[[[[[[[1]]]]]]]]]]',
  `X${'['.repeat(120)}1${']'.repeat(120)}`,
  'X[EXP[99]]',
  'X[9999999**99]',
  'X[ATAN[1]/[0]]',
  'X[LN[0]]',
  'X-##1',
  'E500',
  'E-500',
  'F0.0001',
  'F999999999',
  'F0',
  'M2',
  'M30',
  '%',
  '/',
  '(comment',
  '(a (b))',
  ';',
  'M101 P0',
  'M101 P210',
  'M100',
  'M110 P0.5',
  'T1 S99999',
  `N${'1'.repeat(300)}`,
];

/**
 * Torque and speed of every motor as a cloud over its curve, a panel for each drive: one self-contained
 * SVG, or a plain PNG of the same panels.
 */
import { encode } from 'fast-png';
import type { DriveStudy, Study } from './study.js';
import { CLOUD } from './load-tally.js';
import { round } from './study-words.js';
import { viridis } from '../draw/viridis.js';
import { PICTURE_STYLE, escape } from '../directions/map-picture.js';
import { INK, disc, panelsImage, stroke } from '../draw/panels.js';

const CLOUD_PANEL = { width: 380, height: 230 };
const CLOUD_PAD = { left: 58, right: 22, top: 46, bottom: 52 };
const CLOUD_CELL = {
  width: CLOUD_PAD.left + CLOUD_PANEL.width + CLOUD_PAD.right,
  height: CLOUD_PAD.top + CLOUD_PANEL.height + CLOUD_PAD.bottom,
};
const CLOUD_HEAD = 84;
const COLUMNS = 2;
const RPM_OF_RADIANS = 30 / Math.PI;

/** What a panel spans: rad/s and N m. */
interface PanelSpan {
  readonly speed: number;
  readonly torque: number;
}

export function cloudPicture(study: Study, source: string): string {
  const rows = Math.ceil(study.drives.length / COLUMNS);
  const width = COLUMNS * CLOUD_CELL.width + 8;
  const height = CLOUD_HEAD + rows * CLOUD_CELL.height;
  const title = `Torque and speed of the motors: ${source}`;
  const panels = study.drives.map((drive, i) => {
    const x = (i % COLUMNS) * CLOUD_CELL.width;
    const y = CLOUD_HEAD + Math.floor(i / COLUMNS) * CLOUD_CELL.height;
    return `<g transform="translate(${x} ${y})">${panel(study, drive)}</g>`;
  });
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}" font-family="system-ui, sans-serif" role="img" aria-label="${escape(title)}">`,
    PICTURE_STYLE,
    `<rect class="ground" width="${width}" height="${height}"/>`,
    `<text class="ink" x="20" y="28" font-size="18" font-weight="600">${escape(title)}</text>`,
    `<text class="soft" x="20" y="49" font-size="13">colour: time spent there, from ${LEAST_TEXT} of the job (dark) to all of it (bright)</text>`,
    `<text class="soft" x="20" y="68" font-size="13">line: what the motor has; broken: that over the wanted reserve of ${study.machine.drives!.reserve}; dotted: root mean square; ring: greatest torque</text>`,
    ...panels,
    '</svg>',
    '',
  ].join('\n');
}

function spanOf({ loads }: DriveStudy): PanelSpan {
  const end = loads.motor.speeds.at(-1)!;
  const top = Math.max(...loads.motor.torques);
  return {
    speed:
      topOf(Math.min(CLOUD.span * end, Math.max(end, loads.speed)) * RPM_OF_RADIANS) /
      RPM_OF_RADIANS,
    torque: topOf(Math.min(CLOUD.span * top, Math.max(top, loads.peak))),
  };
}

/** The least of these times a power of ten that is not less: its quarters are short numbers. */
function topOf(value: number): number {
  const power = 10 ** Math.floor(Math.log10(value));
  const tops = [1, 1.2, 1.6, 2, 2.4, 3.2, 4, 4.8, 6, 8, 10];
  return power * tops.find((t) => t * power >= value * (1 - 1e-9))!;
}

function panel(study: Study, drive: DriveStudy): string {
  const { loads, name, ratio } = drive;
  const span = spanOf(drive);
  const x = (speed: number): number => CLOUD_PAD.left + (CLOUD_PANEL.width * speed) / span.speed;
  const y = (torque: number): number =>
    CLOUD_PAD.top + CLOUD_PANEL.height * (1 - torque / span.torque);
  const image = cloudImage(study, drive, span, CLOUD_PANEL.width, CLOUD_PANEL.height);
  const png = encode({ ...CLOUD_PANEL, data: image, channels: 4, depth: 8 });
  const { speeds, torques } = loads.motor;
  const { reserve } = study.machine.drives!;
  const line = (share: number): string =>
    speeds.map((s, i) => `${x(s).toFixed(1)},${y(torques[i]! / share).toFixed(1)}`).join(' ');
  const rotary = study.joints[drive.joints[0]!]!.rotary;
  const letters = drive.joints.map((j) => study.joints[j]!.letter).join(' and ');
  const said = Number.isFinite(loads.reserve)
    ? `reserve at the least ${round(loads.reserve)}`
    : 'nothing to do';
  const rms = y(loads.rms).toFixed(1);
  return [
    `<text class="ink" x="${CLOUD_PAD.left}" y="16" font-size="14" font-weight="600">${escape(`${name}: ${letters}, ${rotary ? `ratio ${round(ratio)}` : `${round(ratio)} mm a turn`}`)}</text>`,
    `<text class="soft" x="${CLOUD_PAD.left}" y="34" font-size="12">${escape(`${loads.drive.count > 1 ? `${loads.drive.count} x ` : ''}${loads.motor.name}; ${said}`)}</text>`,
    ...grid(span, x, y),
    `<image x="${CLOUD_PAD.left}" y="${CLOUD_PAD.top}" width="${CLOUD_PANEL.width}" height="${CLOUD_PANEL.height}" href="data:image/png;base64,${Buffer.from(png).toString('base64')}"/>`,
    `<polyline class="line" points="${line(1)}" fill="none" stroke-width="2.4" stroke-linejoin="round"/>`,
    `<polyline class="line" points="${line(reserve)}" fill="none" stroke-width="1.4" stroke-dasharray="7 5"/>`,
    `<line class="line" x1="${CLOUD_PAD.left}" x2="${CLOUD_PAD.left + CLOUD_PANEL.width}" y1="${rms}" y2="${rms}" stroke-width="1.2" stroke-dasharray="1.5 4"/>`,
    ...peakRing(drive, span, x, y),
  ].join('');
}

function peakRing(
  { loads }: DriveStudy,
  span: PanelSpan,
  x: (speed: number) => number,
  y: (torque: number) => number,
): string[] {
  if (!(loads.peak > 0)) return [];
  const at = `cx="${x(Math.min(loads.peakSpeed, span.speed)).toFixed(1)}" cy="${y(Math.min(loads.peak, span.torque)).toFixed(1)}"`;
  return [
    `<circle class="halo" ${at} r="6" fill="none" stroke-width="4"/><circle class="line" ${at} r="6" fill="none" stroke-width="1.8"/>`,
  ];
}

function grid(span: PanelSpan, x: (v: number) => number, y: (v: number) => number): string[] {
  const floor = CLOUD_PAD.top + CLOUD_PANEL.height;
  const quarters = [0, 0.25, 0.5, 0.75, 1];
  return [
    ...quarters.map((share) => {
      const at = y(share * span.torque).toFixed(1);
      return `<line class="faint" x1="${CLOUD_PAD.left}" x2="${CLOUD_PAD.left + CLOUD_PANEL.width}" y1="${at}" y2="${at}" stroke-width="${share === 0 ? 1.2 : 0.4}"/><text class="soft" x="${CLOUD_PAD.left - 8}" y="${(+at + 4).toFixed(1)}" font-size="11" text-anchor="end">${Number((share * span.torque).toPrecision(3))}</text>`;
    }),
    ...quarters.map((share) => {
      const at = x(share * span.speed).toFixed(1);
      return `<line class="faint" x1="${at}" x2="${at}" y1="${CLOUD_PAD.top}" y2="${floor}" stroke-width="${share === 0 ? 1.2 : 0.4}"/><text class="soft" x="${at}" y="${floor + 16}" font-size="11" text-anchor="middle">${Number((share * span.speed * RPM_OF_RADIANS).toPrecision(3))}</text>`;
    }),
    `<text class="soft" x="${CLOUD_PAD.left + CLOUD_PANEL.width}" y="${floor + 33}" font-size="11" text-anchor="end">speed of the motor, rpm</text>`,
    `<text class="soft" x="${CLOUD_PAD.left}" y="${floor + 33}" font-size="11">up: torque of the motor, N m</text>`,
  ];
}

/** Share of the job from which on a cell is coloured. */
const LEAST_COLOURED = 1e-6;
const LEAST_TEXT = '1 in 1,000,000';

/** Cells of the cloud as pixels, clear where nothing was; torque upwards. */
function cloudImage(
  { seconds }: Study,
  { loads }: DriveStudy,
  span: PanelSpan,
  width: number,
  height: number,
): Uint8Array {
  const out = new Uint8Array(4 * width * height);
  const perColumn = (CLOUD.span * loads.motor.speeds.at(-1)!) / CLOUD.speeds;
  const perRow = (CLOUD.span * Math.max(...loads.motor.torques)) / CLOUD.torques;
  for (let v = 0; v < height; v++) {
    const row = Math.floor((span.torque * (1 - (v + 0.5) / height)) / perRow);
    for (let u = 0; u < width; u++) {
      const column = Math.floor((span.speed * (u + 0.5)) / width / perColumn);
      if (row >= CLOUD.torques || column >= CLOUD.speeds) continue;
      const spent = loads.cloud[row * CLOUD.speeds + column]! / seconds;
      if (!(spent > 0)) continue;
      const share = 1 - Math.log(Math.max(spent, LEAST_COLOURED)) / Math.log(LEAST_COLOURED);
      out.set([...viridis(share), 235], 4 * (v * width + u));
    }
  }
  return out;
}

/** The panels alone, in the order of the drives: clouds, curves and greatest torque, no text. */
export function cloudRaster(study: Study): Uint8Array {
  const { width: w, height: h } = CLOUD_PANEL;
  return panelsImage(study.drives.length, CLOUD_PANEL, (i, dot) => {
    const drive = study.drives[i]!;
    const span = spanOf(drive);
    const image = cloudImage(study, drive, span, w, h);
    for (let v = 0; v < h; v++) {
      for (let u = 0; u < w; u++) {
        const at = 4 * (v * w + u);
        if (image[at + 3]! > 0) dot(u, v, [image[at]!, image[at + 1]!, image[at + 2]!]);
      }
    }
    const { motor, peak, peakSpeed } = drive.loads;
    const place = (speed: number, torque: number): [number, number] => [
      (w * speed) / span.speed,
      h * (1 - torque / span.torque),
    ];
    stroke(
      motor.speeds.map((s, k) => place(s, motor.torques[k]!)),
      INK,
      dot,
    );
    if (peak > 0) disc(place(peakSpeed, peak), 4, INK, dot);
  });
}

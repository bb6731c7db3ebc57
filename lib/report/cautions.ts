/** What to heed before hot metal moves; the page prints it, with the standards that say more. */

export interface Caution {
  readonly text: string;
  /** Where to read more; empty if there is no source. */
  readonly source: string;
}

export const cautions: readonly Caution[] = [
  {
    text: 'Nothing that this page or the program says is a safety function. Assess the risks of the machine first.',
    source: 'ISO 12100, then ISO 13849-1',
  },
  {
    text: 'The nozzle is at 200 to 280 °C and the table is hot: both burn.',
    source: 'ISO 13732-1',
  },
  {
    text: 'A tilting cradle and a turning table crush. Least gaps: hand 100 mm, toes 50 mm, finger 25 mm.',
    source: 'ISO 13854',
  },
  { text: 'A cradle can fall when power is cut: balance it or fit a brake.', source: '' },
  {
    text: 'Mains heaters are fused, earthed, and have a thermal cut-off of their own.',
    source: '',
  },
  {
    text: 'Fumes and ultrafine particles: ventilate.',
    source: 'NIOSH 2023 guide, UL 2904, ISO 27548:2024',
  },
  { text: 'No unattended run without precautions against fire.', source: '' },
  {
    text: 'Keep an emergency stop in reach, of category 0 or 1.',
    source: 'IEC 60204-1',
  },
  {
    text: 'A self-built machine carries no listing. Local codes, the authority having jurisdiction and a qualified electrician take precedence.',
    source: '',
  },
  {
    text: 'Run a new program first with the nozzle cold, without filament, a hand on the stop.',
    source: '',
  },
];

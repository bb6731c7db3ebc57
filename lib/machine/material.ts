/** The material file: what the filament asks for. Schema also published as JSON Schema. */
import { z } from 'zod';
import { aName, anAddress, unusualKeys } from './text-lengths.js';

const positive = z.number().positive();

/** Schema of a material file. */
export const materialFile = z.strictObject({
  $schema: anAddress.optional(),
  name: aName.describe('stands in the program and in reports'),
  density: positive.describe('g/cm3; for weights'),
  nozzleTemperature: positive.describe('deg C, after the first layer'),
  tableTemperature: z.number().min(0).describe('deg C, after the first layer'),
  flow: z
    .strictObject({
      least: z.number().min(0).describe('mm3/s below which the bead breaks up'),
      most: positive.describe('mm3/s that the nozzle can melt'),
    })
    .refine((f) => f.least < f.most, 'the least flow must be below the greatest')
    .describe('between what volume flows the material prints well'),
  fan: z.number().min(0).max(1).describe('share of full speed, 0 to 1, from the second layer on'),
  leastLayerSeconds: z
    .number()
    .min(0)
    .describe('s; a faster layer is slowed down, within the flow range'),
  retract: z
    .strictObject({
      length: z
        .number()
        .min(0)
        .describe('mm of filament drawn back before a move without material'),
      speed: positive.describe('mm/s of filament'),
    })
    .prefault({ length: 1, speed: 30 })
    .describe('how filament is drawn back before a move without material'),
  first: z
    .strictObject({
      nozzleTemperature: positive.optional().describe('deg C on the first layer'),
      tableTemperature: z.number().min(0).optional().describe('deg C on the first layer'),
      speed: positive.default(20).describe('mm/s tip speed on the first layer on the table'),
    })
    .prefault({})
    .describe('what differs on the first layer on the table'),
  unusual: unusualKeys,
});

/** A material as its file states it. */
export type Material = z.infer<typeof materialFile>;

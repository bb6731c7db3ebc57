// The pages of the guide that are made from the program itself: every key of the files that people write,
// from their schemas, and every command with its flags, from what their help is made of.
import { allCommands } from '../dist/cli/all.js';
import { schemaOf } from '../dist/lib/job/file-schemas.js';

const FILES = {
  job: [
    'The keys of a job file',
    'What `tiltwright slice --job` reads. Each is a flag, too: `layers.thickness` is `--layers-thickness`.',
  ],
  machine: [
    'The keys of a machine file',
    '[The machine file](machine-file.md) says where the values come from.',
  ],
  material: [
    'The keys of a material file',
    'What the filament asks for, mostly from its data sheet.',
  ],
};

/** Names and texts of the pages, Markdown. */
export async function generatedPages() {
  const files = Object.entries(FILES).map(([what, [title, lead]]) => {
    const entries = entriesOf(schemaOf(what));
    const text = `# ${title}\n\n${lead} \`[]\` stands for every entry of a list. \`tiltwright schema ${what}\` prints the same for editors, as JSON Schema.\n\n${entries.join('\n')}\n`;
    return { name: `${what}-keys`, title, text };
  });
  return [
    ...files,
    { name: 'commands', title: 'Commands and their flags', text: await commandsPage() },
  ];
}

/** A line for every key under a schema of an object, in the order of the schema. */
function entriesOf(schema) {
  const out = [];
  const seen = new Map();
  const object = (node, path) => {
    for (const [key, inner] of Object.entries(node.properties ?? {})) {
      if (inner.const !== undefined) continue;
      const name = path ? `${path}.${key}` : key;
      const traits = [typeOf(inner), presenceOf(inner, node.required?.includes(key))];
      out.push(`- \`${name}\` (${traits.filter(Boolean).join('; ')}): ${inner.description}`);
      below(inner, name);
    }
  };
  const below = (node, path) => {
    const list = node.items && !node.prefixItems;
    const inner = list
      ? node.items
      : typeof node.additionalProperties === 'object'
        ? node.additionalProperties
        : node;
    const at = list ? `${path}[]` : inner === node ? path : `${path}.<letter>`;
    const forms = (inner.oneOf ?? inner.anyOf ?? [inner]).filter((form) => form.properties);
    for (const form of forms) {
      const [kind, fixed] =
        Object.entries(form.properties).find(([, p]) => p.const !== undefined) ?? [];
      const known = kind && seen.get(JSON.stringify(form));
      if (kind)
        out.push(
          `- \`${at}\` with \`"${kind}": "${fixed.const}"\`${known ? `: as \`${known}\`` : ''}`,
        );
      if (known) continue;
      seen.set(JSON.stringify(form), at);
      object(form, at);
    }
  };
  object(schema, '');
  return out;
}

function typeOf(node) {
  if (node.enum) return node.enum.map((value) => `\`"${value}"\``).join(', ');
  if (node.const !== undefined) return `\`"${node.const}"\``;
  const forms = node.anyOf ?? node.oneOf;
  if (forms) return [...new Set(forms.map(typeOf))].join(' or ');
  if (node.type === 'number') return `number${boundsOf(node)}`;
  if (node.type === 'integer') return `whole number${boundsOf(node)}`;
  if (node.type === 'boolean') return 'true or false';
  if (node.type === 'string')
    return `text${node.maxLength ? `, at most ${node.maxLength} characters` : ''}`;
  if (node.prefixItems) return `list of ${node.prefixItems.length} numbers`;
  if (node.type === 'array')
    return `list${node.minItems ? `, at least ${node.minItems}` : ''}${node.maxItems ? `, at most ${node.maxItems}` : ''}`;
  return 'object';
}

/** The greatest whole number of a double is no bound that anybody meant. */
function boundsOf({ minimum, maximum, exclusiveMinimum, exclusiveMaximum }) {
  const most = maximum === Number.MAX_SAFE_INTEGER ? undefined : maximum;
  const least = minimum === Number.MIN_SAFE_INTEGER ? undefined : minimum;
  if (least !== undefined && most !== undefined) return `, ${least} to ${most}`;
  return [
    exclusiveMinimum === undefined ? '' : `, above ${exclusiveMinimum}`,
    least === undefined ? '' : `, at least ${least}`,
    most === undefined ? '' : `, at most ${most}`,
    exclusiveMaximum === undefined ? '' : `, below ${exclusiveMaximum}`,
  ].join('');
}

function presenceOf(node, required) {
  if (required) return 'required';
  const standard = node.default;
  if (standard === undefined) return 'optional';
  return node.type === 'object' && Object.keys(standard).length === 0
    ? ''
    : `standard \`${JSON.stringify(standard)}\``;
}

async function commandsPage() {
  const sections = (await allCommands()).flatMap((command) => [
    commandSection(command, 'tiltwright', '##'),
    ...command.commands.map((inner) =>
      commandSection(inner, `tiltwright ${command.name()}`, '###'),
    ),
  ]);
  return `# Commands and their flags\n\nWhat \`--help\` says of every command. Exit codes are in [Codes](codes.md) and README.\n\n${sections.join('\n\n')}\n`;
}

function commandSection(command, parent, mark) {
  const help = command.createHelp();
  const args = command.registeredArguments.map(
    (a) => `- \`${a.name()}\`: ${help.argumentDescription(a)}`,
  );
  const isOwn = ({ helpGroupHeading: group }) => !group || group === 'Settings: job';
  const own = command.options.filter(isOwn);
  const groups = command.options.filter((o) => !isOwn(o)).map((o) => o.helpGroupHeading);
  const settings = [...new Set(groups)].map((group) => group.replace('Settings: ', ''));
  const flags = own.map((o) => `- \`${o.flags}\`${standardOf(o)}: ${o.description}`);
  const from =
    settings.length > 0
      ? [
          `- a flag for every key of the [job file](job-keys.md) under ${settings.map((s) => `\`${s}\``).join(', ')}`,
        ]
      : [];
  const usage = `\`${parent} ${command.name()} ${command.usage()}\``;
  const lines = [...args, ...flags, ...from].join('\n');
  return `${mark} ${command.name()}\n\n${sentence(command.description())}\n\n${usage}${lines ? `\n\n${lines}` : ''}`;
}

const sentence = (text) => `${text[0].toUpperCase()}${text.slice(1)}.`;

/** A standard value that depends on the machine it runs on is not told as a number. */
function standardOf({ defaultValue, defaultValueDescription }) {
  if (defaultValueDescription?.endsWith('on this machine')) return ' (standard: by the machine)';
  return defaultValue === undefined || defaultValue === true
    ? ''
    : ` (standard \`${defaultValue}\`)`;
}

/**
 * Text that somebody else chose (the name of a file, of a part in it, of a key, of a machine) before it
 * is shown on a terminal, in a log, in a header or in a comment of a program. A control character in it
 * could move the cursor, colour what follows or begin a line that looks like one of ours; a bidirectional
 * override could make it read as something else (Boucher and Anderson, "Trojan Source", USENIX Security
 * 2023). All such characters are shown as the escapes that JSON has for them; long text is cut.
 */

/**
 * Control (C0, DEL, C1), format (bidirectional marks, what has no width, tags), half a surrogate pair,
 * line and paragraph separators: the general categories Cc, Cf, Cs, Zl, Zp of Unicode.
 */
const HIDDEN = /[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/gu;

/** The same without what JSON escapes by itself and the line breaks of its layout. */
const HIDDEN_IN_JSON = /[\x7f-\x9f\p{Cf}\p{Zl}\p{Zp}]/gu;

/** Names are shown up to so many characters, messages up to more. */
export const LONGEST_NAME = 200;
export const LONGEST_MESSAGE = 1000;

/** One line of visible text, of about `most` characters at most. */
export function printable(text: string, most = LONGEST_NAME): string {
  return shortened(text, most).replace(HIDDEN, escaped);
}

/** JSON laid out for people, with everything hidden in it escaped: it reads as the same value. */
export const jsonText = (value: unknown): string =>
  JSON.stringify(value, null, 2).replace(HIDDEN_IN_JSON, (c) =>
    [...Array(c.length).keys()].map((i) => unit(c.charCodeAt(i))).join(''),
  );

function shortened(text: string, most: number): string {
  if (text.length <= most) return text;
  // Not between the halves of a pair.
  const end = /[\ud800-\udbff]/.test(text[most - 1]!) ? most - 1 : most;
  return `${text.slice(0, end)}... (${text.length.toLocaleString('en-US')} characters)`;
}

const SHORT_ESCAPES: Readonly<Record<string, string>> = { '\n': '\\n', '\r': '\\r', '\t': '\\t' };

const escaped = (c: string): string =>
  SHORT_ESCAPES[c] ??
  (c.length > 1 ? `\\u{${c.codePointAt(0)!.toString(16)}}` : unit(c.charCodeAt(0)));

const unit = (code: number): string => `\\u${code.toString(16).padStart(4, '0')}`;

/** The true finish of a panel. */
export interface Answer {
  name: string;
  finish: string;
}

/** Answers typed one a line, `name, finish`; undefined where a line is none. The last comma parts them: names may hold some. */
export function answersOf(text: string): Answer[] | undefined {
  const lines = text.split('\n').map((line) => line.trim()).filter(Boolean);
  const answers = lines.map((line) => {
    const comma = line.lastIndexOf(',');
    return { name: line.slice(0, Math.max(comma, 0)).trim(), finish: line.slice(comma + 1).trim().replaceAll(' ', '-') };
  });
  return answers.every(({ name, finish }) => name && finish) ? answers : undefined;
}

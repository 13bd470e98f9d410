/** What a file is by its name, as the program tells it. */
export type FileKind = 'mesh' | 'heights' | 'unknown';

const MESHES = ['ply', 'obj', 'stl', 'gltf', 'glb'];
const HEIGHTS = ['x3p', 'tif', 'tiff', 'txt', 'asc', 'dat', 'xyz', 'grid'];
/** These state their unit by their own standard; of all others it is asked. */
const STATED = ['x3p', 'gltf', 'glb'];

const ending = (name: string): string => name.split('.').pop()?.toLowerCase() ?? '';

export function kindOf(name: string): FileKind {
  if (MESHES.includes(ending(name))) return 'mesh';
  return HEIGHTS.includes(ending(name)) ? 'heights' : 'unknown';
}

export const statesUnit = (name: string): boolean => STATED.includes(ending(name));

/** Points typed one a line, `x y z` or `x y`; undefined where a line is no point. */
export function points(text: string): [number, number, number][] | undefined {
  const lines = text.split('\n').map((line) => line.trim()).filter(Boolean);
  const read = lines.map((line) => line.split(/[,;\s]+/).map(Number));
  if (read.some((point) => point.length < 2 || point.length > 3 || point.some((n) => !Number.isFinite(n)))) return undefined;
  return read.map(([x = 0, y = 0, z = 0]) => [x, y, z]);
}

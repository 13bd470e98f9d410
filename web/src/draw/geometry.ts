/** Traces of one capture as flat arrays, in picture pixels, ready to draw by the ten thousand. */
export interface TraceGeometry {
  readonly count: number;
  /** Index of each trace's first point; `starts[count]` is the number of points. */
  readonly starts: Uint32Array;
  /** x, y of every point, picture pixels, origin at the centre of the top-left pixel. */
  readonly points: Float32Array;
  /** How each trace is drawn. */
  readonly kinds: Uint8Array;
  /** Largest distance of a trace from the chord of its ends, picture pixels. */
  readonly bows: Float32Array;
  /** xmin, ymin, xmax, ymax of every trace, picture pixels. */
  readonly boxes: Float32Array;
}

/** Kinds of line; each differs in dash and weight, not in colour alone. */
export const KIND = { accepted: 0, suspect: 1, rejected: 2, drawn: 3, chosen: 4 } as const;
export type Kind = (typeof KIND)[keyof typeof KIND];

export interface DrawnTrace {
  readonly points: readonly (readonly [number, number])[];
  readonly kind: Kind;
}

export function geometryOf(traces: readonly DrawnTrace[]): TraceGeometry {
  const total = traces.reduce((sum, trace) => sum + trace.points.length, 0);
  const starts = new Uint32Array(traces.length + 1);
  const points = new Float32Array(2 * total);
  const kinds = new Uint8Array(traces.length);
  const bows = new Float32Array(traces.length);
  const boxes = new Float32Array(4 * traces.length);
  let at = 0;
  traces.forEach((trace, index) => {
    starts[index] = at;
    kinds[index] = trace.kind;
    let [xmin, ymin, xmax, ymax] = [Infinity, Infinity, -Infinity, -Infinity];
    for (const [x, y] of trace.points) {
      points[2 * at] = x;
      points[2 * at + 1] = y;
      at += 1;
      xmin = Math.min(xmin, x);
      xmax = Math.max(xmax, x);
      ymin = Math.min(ymin, y);
      ymax = Math.max(ymax, y);
    }
    boxes.set([xmin, ymin, xmax, ymax], 4 * index);
    bows[index] = bowOf(trace.points);
  });
  starts[traces.length] = at;
  return { count: traces.length, starts, points, kinds, bows, boxes };
}

function bowOf(points: readonly (readonly [number, number])[]): number {
  const first = points[0];
  const last = points[points.length - 1];
  if (!first || !last) return 0;
  const [dx, dy] = [last[0] - first[0], last[1] - first[1]];
  const chord = Math.hypot(dx, dy) || 1;
  return points.reduce((bow, [x, y]) => Math.max(bow, Math.abs((x - first[0]) * dy - (y - first[1]) * dx) / chord), 0);
}

/** Index of the trace nearest to a point of the picture, no farther than `within` picture pixels; -1 if there is none. */
export function nearestTrace(geometry: TraceGeometry, x: number, y: number, within: number): number {
  let nearest = -1;
  let best = within;
  for (let index = 0; index < geometry.count; index += 1) {
    const box = 4 * index;
    if (x < geometry.boxes[box]! - best || y < geometry.boxes[box + 1]! - best) continue;
    if (x > geometry.boxes[box + 2]! + best || y > geometry.boxes[box + 3]! + best) continue;
    for (let p = geometry.starts[index]!; p + 1 < geometry.starts[index + 1]!; p += 1) {
      const distance = distanceToSegment(geometry.points, 2 * p, x, y);
      if (distance < best) {
        best = distance;
        nearest = index;
      }
    }
  }
  return nearest;
}

function distanceToSegment(points: Float32Array, at: number, x: number, y: number): number {
  const [ax, ay, bx, by] = [points[at]!, points[at + 1]!, points[at + 2]!, points[at + 3]!];
  const [dx, dy] = [bx - ax, by - ay];
  const along = ((x - ax) * dx + (y - ay) * dy) / (dx * dx + dy * dy || 1);
  const t = Math.min(1, Math.max(0, along));
  return Math.hypot(x - ax - t * dx, y - ay - t * dy);
}

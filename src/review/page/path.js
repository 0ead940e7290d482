// Path data (SVG 2, 9.3) of outlines: absolute M, L, H, V, C, Q and Z, as records have them.

/** How long the chords are that stand for a curve, mm: a fortieth of the sagitta anybody could see. */
const CHORD = 1;

const numbers = { M: 2, L: 2, H: 1, V: 1, C: 6, Q: 4, Z: 0 };

const parts = (data) => {
  const all = [];
  for (const [, letter, rest] of data.matchAll(/([MLHVCQZ])([^MLHVCQZ]*)/gi)) {
    const values = (rest.match(/[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?/gi) ?? []).map(Number);
    const step = numbers[letter.toUpperCase()];
    if (step === 0) all.push(["Z"]);
    for (let k = 0; step > 0 && k + step <= values.length; k += step) all.push([letter.toUpperCase(), ...values.slice(k, k + step)]);
  }
  return all;
};

const cubic = (a, b, c, d, t) => {
  const u = 1 - t;
  return u * u * u * a + 3 * u * u * t * b + 3 * u * t * t * c + t * t * t * d;
};

/** Chords along a path: `points` in mm and, for each, how far along it lies. */
export const chords = (data) => {
  const points = [];
  const far = [];
  let [x, y, x0, y0] = [0, 0, 0, 0];
  const to = (px, py) => {
    far.push(points.length === 0 ? 0 : far[far.length - 1] + Math.hypot(px - x, py - y));
    points.push([px, py]);
    [x, y] = [px, py];
  };
  for (const [letter, ...v] of parts(data)) {
    if (letter === "M") {
      [x, y, x0, y0] = [v[0], v[1], v[0], v[1]];
      to(x, y);
    } else if (letter === "L") to(v[0], v[1]);
    else if (letter === "H") to(v[0], y);
    else if (letter === "V") to(x, v[0]);
    else if (letter === "Z") to(x0, y0);
    else {
      const [ax, ay] = [x, y];
      const c =
        letter === "C"
          ? v
          : [
              ax + (2 / 3) * (v[0] - ax),
              ay + (2 / 3) * (v[1] - ay),
              v[2] + (2 / 3) * (v[0] - v[2]),
              v[3] + (2 / 3) * (v[1] - v[3]),
              v[2],
              v[3],
            ];
      const rough = Math.hypot(c[0] - ax, c[1] - ay) + Math.hypot(c[2] - c[0], c[3] - c[1]) + Math.hypot(c[4] - c[2], c[5] - c[3]);
      const n = Math.min(400, Math.max(4, Math.ceil(rough / CHORD)));
      for (let k = 1; k <= n; k += 1) to(cubic(ax, c[0], c[2], c[4], k / n), cubic(ay, c[1], c[3], c[5], k / n));
    }
  }
  return { points, far, length: far[far.length - 1] ?? 0 };
};

/** The place `mm` along. */
export const along = ({ points, far }, mm) => {
  let [low, high] = [0, far.length - 1];
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (far[middle] <= mm) low = middle;
    else high = middle;
  }
  const [a, b] = [points[low], points[Math.max(high, 0)]];
  const share = far[high] > far[low] ? Math.min(1, Math.max(0, (mm - far[low]) / (far[high] - far[low]))) : 0;
  return [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
};

/** The place nearest to `at`: how far off it lies, how far along, and where. */
export const nearest = ({ points, far }, at) => {
  let best = { off: Infinity, far: 0, at: points[0] ?? at };
  for (let k = 1; k < points.length; k += 1) {
    const [a, b] = [points[k - 1], points[k]];
    const [dx, dy] = [b[0] - a[0], b[1] - a[1]];
    const t = Math.min(1, Math.max(0, ((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / (dx * dx + dy * dy || 1)));
    const p = [a[0] + t * dx, a[1] + t * dy];
    const off = Math.hypot(at[0] - p[0], at[1] - p[1]);
    if (off < best.off) best = { off, far: far[k - 1] + t * (far[k] - far[k - 1]), at: p };
  }
  return best;
};

/** The rectangle round some places: `[left, top, right, bottom]`, nothing when there are none. */
export const around = (points) => {
  if (points.length === 0) return null;
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    box[0] = Math.min(box[0], x);
    box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x);
    box[3] = Math.max(box[3], y);
  }
  return box;
};

// Small geometry of marks: distances for the pointer, and the ellipse through edge points.

export function distanceToPath(x, y, path, closed) {
  let best = Infinity;
  const n = path.length;
  for (let i = 0; i < (closed ? n : n - 1); i++) {
    const [ax, ay] = path[i], [bx, by] = path[(i + 1) % n];
    const dx = bx - ax, dy = by - ay, l = dx * dx + dy * dy;
    const t = l ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / l)) : 0;
    best = Math.min(best, Math.hypot(ax + t * dx - x, ay + t * dy - y));
  }
  return n === 1 ? Math.hypot(path[0][0] - x, path[0][1] - y) : best;
}

// Least squares conic with the constraint 4AC − B² = 1 (Fitzgibbon, Pilu and Fisher 1999, in the stable form of Halir and
// Flusser 1998). Returns {x, y, a, b, angle} or null.
export function ellipse(points) {
  if (points.length < 5) return null;
  const n = points.length;
  const mx = points.reduce((s, p) => s + p[0], 0) / n, my = points.reduce((s, p) => s + p[1], 0) / n;
  const k = Math.sqrt(points.reduce((s, p) => s + (p[0] - mx) ** 2 + (p[1] - my) ** 2, 0) / n) || 1;
  const S1 = zero(), S2 = zero(), S3 = zero();
  for (const [px, py] of points) {
    const x = (px - mx) / k, y = (py - my) / k, q = [x * x, x * y, y * y], l = [x, y, 1];
    for (let i = 0; i < 3; i++) for (let j = 0; j < 3; j++) { S1[i][j] += q[i] * q[j]; S2[i][j] += q[i] * l[j]; S3[i][j] += l[i] * l[j]; }
  }
  const inv = inverse(S3);
  if (!inv) return null;
  const T = times(inv, transpose(S2)).map((r) => r.map((v) => -v));
  const M = add(S1, times(S2, T));
  const C = [M[2].map((v) => v / 2), M[1].map((v) => -v), M[0].map((v) => v / 2)];
  const v = eigen(C);
  if (!v) return null;
  const [A, B, D] = v, lin = T.map((r) => r[0] * A + r[1] * B + r[2] * D);
  return shape(A, B, D, lin[0], lin[1], lin[2], mx, my, k);
}

function shape(A, B, C, D, E, F, mx, my, k) {
  if (A + C < 0) [A, B, C, D, E, F] = [-A, -B, -C, -D, -E, -F];
  const det = 4 * A * C - B * B;
  if (det <= 0) return null;
  const x = (B * E - 2 * C * D) / det, y = (B * D - 2 * A * E) / det;
  const f = A * x * x + B * x * y + C * y * y + D * x + E * y + F;
  const mid = (A + C) / 2, half = Math.hypot((A - C) / 2, B / 2);
  const l1 = mid + half, l2 = mid - half;
  if (-f / l1 <= 0 || -f / l2 <= 0) return null;
  // the larger half axis belongs to the smaller eigenvalue
  const a = Math.sqrt(-f / l2), b = Math.sqrt(-f / l1);
  return { x: mx + k * x, y: my + k * y, a: k * a, b: k * b, angle: 0.5 * Math.atan2(-B, C - A) };
}

const zero = () => [[0, 0, 0], [0, 0, 0], [0, 0, 0]];
const transpose = (m) => m[0].map((_, j) => m.map((r) => r[j]));
const times = (a, b) => a.map((r) => b[0].map((_, j) => r.reduce((s, v, i) => s + v * b[i][j], 0)));
const add = (a, b) => a.map((r, i) => r.map((v, j) => v + b[i][j]));

function inverse(m) {
  const [[a, b, c], [d, e, f], [g, h, i]] = m;
  const A = e * i - f * h, B = f * g - d * i, C = d * h - e * g, det = a * A + b * B + c * C;
  if (Math.abs(det) < 1e-14) return null;
  return [[A, c * h - b * i, b * f - c * e], [B, a * i - c * g, c * d - a * f], [C, b * g - a * h, a * e - b * d]]
    .map((r) => r.map((v) => v / det));
}

// The eigenvector of a real 3 × 3 matrix with 4·v0·v2 − v1² > 0 (there is one for points of an ellipse).
function eigen(m) {
  const tr = m[0][0] + m[1][1] + m[2][2];
  const minors = m[0][0] * m[1][1] - m[0][1] * m[1][0] + m[0][0] * m[2][2] - m[0][2] * m[2][0] + m[1][1] * m[2][2] - m[1][2] * m[2][1];
  const det = m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
    m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
  for (const l of cubic(-tr, minors, -det)) {
    const r = m.map((row, i) => row.map((v, j) => v - (i === j ? l : 0)));
    let best = null, size = 0;
    for (const [p, q] of [[0, 1], [0, 2], [1, 2]]) {
      const v = [r[p][1] * r[q][2] - r[p][2] * r[q][1], r[p][2] * r[q][0] - r[p][0] * r[q][2], r[p][0] * r[q][1] - r[p][1] * r[q][0]];
      const s = Math.hypot(...v);
      if (s > size) { size = s; best = v.map((t) => t / s); }
    }
    if (best && 4 * best[0] * best[2] - best[1] ** 2 > 0) return best;
  }
  return null;
}

// Real roots of x³ + a x² + b x + c (Viète's trigonometric form, and Cardano's).
function cubic(a, b, c) {
  const p = b - a * a / 3, q = 2 * a ** 3 / 27 - a * b / 3 + c, d = q * q / 4 + p ** 3 / 27;
  if (d > 0) {
    const s = Math.sqrt(d);
    return [Math.cbrt(-q / 2 + s) + Math.cbrt(-q / 2 - s) - a / 3];
  }
  const r = 2 * Math.sqrt(Math.max(0, -p / 3)), t = r ? Math.acos(Math.max(-1, Math.min(1, 3 * q / (p * r)))) / 3 : 0;
  return [0, 1, 2].map((k) => r * Math.cos(t - 2 * Math.PI * k / 3) - a / 3);
}

export const ellipsePath = (e) => {
  const c = Math.cos(e.angle), s = Math.sin(e.angle), dx = e.a * c, dy = e.a * s, turn = e.angle * 180 / Math.PI;
  return `M${e.x + dx} ${e.y + dy}A${e.a} ${e.b} ${turn} 1 1 ${e.x - dx} ${e.y - dy}A${e.a} ${e.b} ${turn} 1 1 ${e.x + dx} ${e.y + dy}`;
};

// Points, and lines of points on which marks slide.

export const minus = (a, b) => [a[0] - b[0], a[1] - b[1]];
export const plus = (a, b, times = 1) => [a[0] + times * b[0], a[1] + times * b[1]];
export const dot = (a, b) => a[0] * b[0] + a[1] * b[1];
export const length = (a) => Math.hypot(a[0], a[1]);
export const unit = (a) => (length(a) ? [a[0] / length(a), a[1] / length(a)] : [0, 1]);

// The place on a line of points that is nearest to a point: the number of the piece, and its share.
export function nearestOn(line, point) {
  let best = [Infinity, 0, point];
  for (let i = 0; i + 1 < line.length; i++) {
    const along = minus(line[i + 1], line[i]);
    const share = Math.min(Math.max(dot(minus(point, line[i]), along) / (dot(along, along) || 1), 0), 1);
    const on = plus(line[i], along, share);
    const far = length(minus(point, on));
    if (far < best[0]) best = [far, i + share, on];
  }
  return { place: best[1], point: best[2] };
}

const piece = (line, place) => Math.min(Math.max(Math.floor(place), 0), line.length - 2);

export function pointOn(line, place) {
  const i = piece(line, place);
  return plus(line[i], minus(line[i + 1], line[i]), place - i);
}

export function tangentAt(line, place) {
  const i = piece(line, place);
  return unit(minus(line[i + 1], line[i]));
}

// A line that goes on a little at both ends.
export function longer(line) {
  const along = minus(line[1], line[0]);
  return [plus(line[0], along, -0.15), plus(line[1], along, 0.15)];
}

// From a picture's pixels to the Moon and back by its pose: the same formulas as moondesk.moon.geometry, whose docstrings
// explain them; a test compares the two. No page in here.

const RAD = Math.PI / 180;

// Rows: unit vectors of u (lunar east), v (north) and w (towards the observer) for the point beneath the observer.
function axesOf(pose) {
  const b = pose.libration_lat_deg * RAD;
  const l = pose.libration_lon_deg * RAD;
  const [sb, cb, sl, cl] = [Math.sin(b), Math.cos(b), Math.sin(l), Math.cos(l)];
  return [[-sl, cl, 0], [-sb * cl, -sb * sl, cb], [cb * cl, cb * sl, sb]];
}

function screenAxes(pose) {
  const t = pose.north_screen_deg * RAD;
  const hand = pose.mirrored ? -1 : 1;
  return { east: [hand * Math.cos(t), -hand * Math.sin(t)], north: [-Math.sin(t), -Math.cos(t)] };
}

const clamped = (value, least, most) => Math.min(Math.max(value, least), most);

function screenDirection(screenDeg) {
  const t = (screenDeg ?? 0) * RAD;
  return [-Math.sin(t), -Math.cos(t)];
}

// Tilt and tangential terms of screen offsets, in radii from the disc's centre.
function askew(pose, dx, dy) {
  const [[tx, ty], [px, py]] = [screenDirection(pose.tilt_screen_deg), screenDirection(pose.tangential_screen_deg)];
  const grow = 1 / Math.max(1 - pose.tilt * (dx * tx + dy * ty), 0.5) + 2 * pose.tangential * (dx * px + dy * py);
  const bend = pose.tangential * (dx * dx + dy * dy);
  return [dx * grow + bend * px, dy * grow + bend * py];
}

function straight(pose, dx, dy) {
  const [[tx, ty], [px, py]] = [screenDirection(pose.tilt_screen_deg), screenDirection(pose.tangential_screen_deg)];
  if (!pose.tangential) {
    const shrink = 1 / Math.max(1 + pose.tilt * (dx * tx + dy * ty), 0.5);
    return [dx * shrink, dy * shrink];
  }
  let [ux, uy] = [dx, dy];
  for (let k = 0; k < 16; k += 1) {
    const grow = clamped(1 / Math.max(1 - pose.tilt * (ux * tx + uy * ty), 0.5)
      + 2 * pose.tangential * (ux * px + uy * py), 0.5, 2);
    const bend = pose.tangential * Math.min(ux * ux + uy * uy, 4);
    [ux, uy] = [(dx - bend * px) / grow, (dy - bend * py) / grow];
  }
  return [ux, uy];
}

function pixelToDisc(pose, x, y) {
  if (pose.radial_k1) {
    const [k1, scale] = [pose.radial_k1, pose.axis_scale_px];
    const [rx, ry] = [(x - pose.axis_x) / scale, (y - pose.axis_y) / scale];
    const seen = rx * rx + ry * ry;
    let s = seen;   // s (1 + k1 s)^2 = seen by Newton's steps
    for (let k = 0; k < 6; k += 1) {
      const grow = 1 + k1 * s;
      s = Math.max(s - (s * grow * grow - seen) / Math.max(grow * (1 + 3 * k1 * s), 0.05), 0);
    }
    const grow = Math.max(1 + k1 * s, 0.1);
    [x, y] = [pose.axis_x + rx / grow * scale, pose.axis_y + ry / grow * scale];
  }
  let [dx, dy] = [(x - pose.x) / pose.radius_px, (y - pose.y) / pose.radius_px];
  if (pose.tilt || pose.tangential) [dx, dy] = straight(pose, dx, dy);
  if (pose.flattening) {
    const t = pose.flattening_screen_deg * RAD;
    const [sx, sy] = [-Math.sin(t), -Math.cos(t)];
    const along = (dx * sx + dy * sy) * (pose.flattening / (1 - pose.flattening));
    [dx, dy] = [dx + along * sx, dy + along * sy];
  }
  const { east, north } = screenAxes(pose);
  return [dx * east[0] + dy * east[1], dx * north[0] + dy * north[1]];
}

function discToPixel(pose, u, v) {
  const { east, north } = screenAxes(pose);
  let [dx, dy] = [u * east[0] + v * north[0], u * east[1] + v * north[1]];
  if (pose.flattening) {
    const t = pose.flattening_screen_deg * RAD;
    const [sx, sy] = [-Math.sin(t), -Math.cos(t)];
    const along = (dx * sx + dy * sy) * pose.flattening;
    [dx, dy] = [dx - along * sx, dy - along * sy];
  }
  if (pose.tilt || pose.tangential) [dx, dy] = askew(pose, dx, dy);
  let [x, y] = [pose.x + pose.radius_px * dx, pose.y + pose.radius_px * dy];
  if (pose.radial_k1) {
    const [rx, ry] = [x - pose.axis_x, y - pose.axis_y];
    const grow = pose.radial_k1 * (rx * rx + ry * ry) / pose.axis_scale_px ** 2;
    [x, y] = [x + rx * grow, y + ry * grow];
  }
  return { x, y };
}

// Unit vector of the surface under a pixel, with mu, the cosine of the emission angle; null off the disc.
export function pixelToVector(pose, x, y) {
  const d = pose.distance_radii;
  const k = 1 / Math.sqrt(1 - 1 / d ** 2);
  const [u, v] = pixelToDisc(pose, x, y);
  const [a, b] = [u * k, v * k];
  const r2 = (a * a + b * b) / (d * d);
  let root = 1 - (1 + r2) * (1 - 1 / d ** 2);
  if (root < 0 && root > -1e-12) root = 0;
  if (!(root >= 0)) return null;
  const s = (1 - Math.sqrt(root)) / (1 + r2);
  const local = [a * s, b * s, d * (1 - s)];
  const axes = axesOf(pose);
  const vector = [0, 1, 2].map((j) => local[0] * axes[0][j] + local[1] * axes[1][j] + local[2] * axes[2][j]);
  const ray = [-local[0], -local[1], d - local[2]];
  const mu = (local[0] * ray[0] + local[1] * ray[1] + local[2] * ray[2]) / Math.hypot(...ray);
  return { vector, mu };
}

export function vectorToPixel(pose, vector) {
  const d = pose.distance_radii;
  const [a, b, c] = axesOf(pose).map((row) => row[0] * vector[0] + row[1] * vector[1] + row[2] * vector[2]);
  const grow = Math.sqrt(1 - 1 / d ** 2) * d / (d - c);
  return { ...discToPixel(pose, a * grow, b * grow), visible: c >= 1 / d };
}

export function latLon(vector) {
  return {
    lat: Math.asin(Math.min(Math.max(vector[2], -1), 1)) / RAD,
    lon: Math.atan2(vector[1], vector[0]) / RAD,
  };
}

// Radians between two unit vectors; the arc tangent keeps its digits for near and far points alike.
export function angleBetween(p, q) {
  const cross = [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]];
  return Math.atan2(Math.hypot(...cross), p[0] * q[0] + p[1] * q[1] + p[2] * q[2]);
}

const distance = (pose, radius, [x1, y1, x2, y2]) => {
  const [p, q] = [pixelToVector(pose, x1, y1), pixelToVector(pose, x2, y2)];
  return p && q ? radius * angleBetween(p.vector, q.vector) : NaN;
};

// Steps for the derivative by a parameter of the pose, in its own unit (pixels, degrees, pure numbers).
const STEPS = { x: 0.01, y: 0.01, radius_px: 0.01, north_screen_deg: 1e-4, libration_lat_deg: 1e-4,
  libration_lon_deg: 1e-4, radial_k1: 1e-6 };
// Parameters that come as two parts of a vector (moondesk.placement.solver), by how often its angle is turned, and their step.
const VECTORS = { flattening: 2, tilt: 1, tangential: 1 }, PART = 1e-6;
const stepOf = (name) => STEPS[name] ?? PART;

// The pose with one of its parameters changed.
function changed(pose, name, step) {
  const [, vector, part] = name.match(/^(.+)_(cos|sin)$/) ?? [];
  if (!vector) return { ...pose, [name]: pose[name] + step };
  const times = VECTORS[vector], t = times * pose[`${vector}_screen_deg`] * RAD;
  const c = pose[vector] * Math.cos(t) + (part === "cos" ? step : 0);
  const s = pose[vector] * Math.sin(t) + (part === "sin" ? step : 0);
  return { ...pose, [vector]: Math.hypot(c, s), [`${vector}_screen_deg`]: Math.atan2(s, c) / RAD / times };
}

// Distance along the smooth sphere between the places under two pixels, km, and its standard deviation from the pose's
// covariance and a reading error of so many picture pixels per axis and end. Null where an end is off the disc.
export function measured(pose, radiusKm, from, to, readingPx) {
  const ends = [from.x, from.y, to.x, to.y];
  const km = distance(pose, radiusKm, ends);
  if (!Number.isFinite(km)) return null;
  const names = pose.parameters ?? [];
  const covariance = pose.covariance ?? [];
  const known = names.length > 0 && covariance.length === names.length ** 2;
  const own = known ? 0 : (pose.sigma_pct_radius ?? 0) / 100 * pose.radius_px;
  const sigmaPx = Math.hypot(readingPx, own);
  let variance = 0;
  for (let k = 0; k < 4; k += 1) {
    const slope = slopeOf((step) => distance(pose, radiusKm, ends.map((v, j) => (j === k ? v + step : v))), km, 0.01);
    variance += (slope * sigmaPx) ** 2;
  }
  if (known) {
    const slopes = names.map((name) => slopeOf(
      (step) => distance(changed(pose, name, step), radiusKm, ends), km, stepOf(name)));
    for (let i = 0; i < names.length; i += 1) {
      for (let j = 0; j < names.length; j += 1) variance += slopes[i] * covariance[i * names.length + j] * slopes[j];
    }
  }
  const mu = Math.min(...[from, to].map((p) => pixelToVector(pose, p.x, p.y).mu));
  return { km, sigma: Math.sqrt(Math.max(variance, 0)), mu };
}

// Central where both sides are on the disc, else from the side that is.
function slopeOf(f, here, step) {
  const [more, less] = [f(step), f(-step)];
  if (Number.isFinite(more) && Number.isFinite(less)) return (more - less) / (2 * step);
  if (Number.isFinite(more)) return (more - here) / step;
  return Number.isFinite(less) ? (here - less) / step : Infinity;
}

// Points of the great circle between two vectors, both ends included.
export function arc(p, q, steps) {
  const angle = angleBetween(p, q);
  if (angle < 1e-9) return [p, q];
  return Array.from({ length: steps + 1 }, (_, k) => {
    const [a, b] = [Math.sin((1 - k / steps) * angle) / Math.sin(angle), Math.sin(k / steps * angle) / Math.sin(angle)];
    return [0, 1, 2].map((j) => a * p[j] + b * q[j]);
  });
}

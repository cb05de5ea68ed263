// The shapes of a bed's picture: its hoop, its strings, its meshes, and colours for sizes.

const SIDES = 144;

/** The inner edge |x/(W/2)|^n + |y/(L/2)|^n = 1 as a path; y to the tip is up. */
export function hoopPath({ width, length, exponent }) {
  const points = [];
  for (let step = 0; step < SIDES; step += 1) {
    const angle = (2 * Math.PI * step) / SIDES;
    const along = (value, half) => half * Math.sign(value) * Math.abs(value) ** (2 / exponent);
    points.push(`${along(Math.cos(angle), width / 2).toFixed(2)} ${(-along(Math.sin(angle), length / 2)).toFixed(2)}`);
  }
  return `M${points.join("L")}z`;
}

/** Mains and crosses as paths, longer than the hoop, which cuts them. */
export function stringPaths({ mains, slopes, crosses, width, length }) {
  const far = length / 2 + 5;
  const wide = width / 2 + 5;
  const at = (place, y) => (mains[place] + slopes[place] * y).toFixed(2);
  return {
    mains: mains.map((_, place) => `M${at(place, far)} ${-far}L${at(place, -far)} ${far}`).join(""),
    crosses: crosses.map((y) => `M${-wide} ${(-y).toFixed(2)}H${wide}`).join(""),
  };
}

/** Every mesh between neighbouring strings: its corners as a path, and its size √(main gap · cross gap) [mm]. */
export function meshesOf({ mains, slopes, crosses }) {
  const at = (place, y) => mains[place] + slopes[place] * y;
  const found = [];
  for (let main = 0; main + 1 < mains.length; main += 1) {
    for (let cross = 0; cross + 1 < crosses.length; cross += 1) {
      const [upper, lower] = [crosses[cross], crosses[cross + 1]];
      const middle = (upper + lower) / 2;
      const corners = [
        [main, upper],
        [main + 1, upper],
        [main + 1, lower],
        [main, lower],
      ];
      const d = `M${corners.map(([one, y]) => `${at(one, y).toFixed(2)} ${(-y).toFixed(2)}`).join("L")}z`;
      found.push({ d, size: Math.sqrt((at(main + 1, middle) - at(main, middle)) * (upper - lower)) });
    }
  }
  return found;
}

/** The colour of a mesh size, mixed from those of the map. */
export function shade(size, { least, most, colours }) {
  const place = Math.max(0, Math.min(1, (size - least) / (most - least))) * (colours.length - 1);
  const low = Math.min(Math.floor(place), colours.length - 2);
  const part = (colour, at) => parseInt(colour.slice(at, at + 2), 16);
  const mix = (at) =>
    Math.round(part(colours[low], at) + (place - low) * (part(colours[low + 1], at) - part(colours[low], at)));
  return `rgb(${mix(1)},${mix(3)},${mix(5)})`;
}

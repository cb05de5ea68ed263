// Beds drawn from their readings: one with every mesh shaded by its size, or up to three laid over each other.

import { bedOf, fullName } from "./catalogue.js";
import { html, LETTERS, svg } from "./shapes.js";

const ROOM = 12;
const SCALE_MM = 50;
const PAIRS = { sides: ["left", "right"], even: [] };

/** A figure of the beds of `laid` frames in `zone`, with words that say what is drawn. */
export function bedFigure(catalogue, laid, zone) {
  const beds = laid.map((frame, number) => ({ frame, letter: LETTERS[number], bed: bedOf(catalogue, frame) }));
  const drawn = beds.filter((one) => one.bed);
  const missing = beds.filter((one) => !one.bed).map((one) => one.letter);
  const made = html("figure", { class: "bed" });
  if (drawn.length) made.append(picture(catalogue, drawn, zone));
  made.append(caption(catalogue, drawn, missing, beds.length));
  return made;
}

function picture(catalogue, drawn, zone) {
  const width = Math.max(...drawn.map(({ bed }) => bed.width)) / 2 + ROOM;
  const length = Math.max(...drawn.map(({ bed }) => bed.length)) / 2 + ROOM;
  const foot = drawn.length === 1 ? 40 : 20;
  const label = drawn
    .map(({ frame, bed }) => `${fullName(catalogue, frame)}, copy ${bed.specimen}`)
    .join("; laid over it ");
  const box = `${-width} ${-length} ${2 * width} ${2 * length + foot}`;
  const made = svg("svg", {
    viewBox: box,
    role: "img",
    "aria-label": `The bed of ${label}`,
    class: drawn.length > 1 ? "over" : "one",
  });
  drawn.forEach((one) => made.append(...(drawn.length === 1 ? single(catalogue, one.bed) : overlaid(one))));
  made.append(...zoneFrames(catalogue, zone));
  drawn.forEach(({ bed, letter }) =>
    made.append(svg("path", { class: `hoop bed-${drawn.length > 1 ? letter : "A"}`, d: hoopPath(bed) })),
  );
  made.append(scaleBar(-width + 6, length + 3));
  if (drawn.length === 1) made.append(shadeKey(catalogue, width, length + 18));
  return made;
}

/** One bed: meshes shaded, strings over them, all cut off at the hoop. */
function single(catalogue, bed) {
  const clip = svg("clipPath", { id: "inside-A" }, svg("path", { d: hoopPath(bed) }));
  const cells = svg("g", { "clip-path": "url(#inside-A)" });
  for (const { d, size } of meshesOf(bed)) cells.append(svg("path", { d, fill: shade(size, catalogue.shades) }));
  const { mains, crosses } = stringPaths(bed);
  for (const family of [crosses, mains]) {
    cells.append(svg("path", { class: "edge", d: family }), svg("path", { class: "core", d: family }));
  }
  return [clip, cells];
}

/** One bed of several: its strings as lines of its own kind. */
function overlaid({ bed, letter }) {
  const clip = svg("clipPath", { id: `inside-${letter}` }, svg("path", { d: hoopPath(bed) }));
  const { mains, crosses } = stringPaths(bed);
  return [
    clip,
    svg("path", { class: `strings bed-${letter}`, d: mains + crosses, "clip-path": `url(#inside-${letter})` }),
  ];
}

/** The window or windows of the zone asked about. */
function zoneFrames(catalogue, zone) {
  return (PAIRS[zone] ?? [zone]).flatMap((name) => {
    const [left, low, side] = catalogue.windows[name];
    const square = { x: left, y: -low - side, width: side, height: side };
    return [svg("rect", { class: "window-edge", ...square }), svg("rect", { class: "window", ...square })];
  });
}

/** Which kind of line is which bed. */
function lineKey(catalogue, drawn) {
  const key = html("span", { class: "line-key" });
  for (const { frame, letter } of drawn) {
    const sample = svg("svg", { viewBox: "0 0 34 8", width: 34, height: 8, class: "over", "aria-hidden": "true" });
    sample.append(svg("path", { class: `strings bed-${letter}`, d: "M0 4H34" }));
    key.append(html("span", {}, sample, ` ${letter} ${catalogue.ids[frame]}`));
  }
  return key;
}

function scaleBar(x, y) {
  return svg(
    "g",
    { class: "scale" },
    svg("path", { d: `M${x} ${y}v4h${SCALE_MM}v-4` }),
    svg("text", { x: x + SCALE_MM + 4, y: y + 5 }, `${SCALE_MM} mm`),
  );
}

function shadeKey(catalogue, width, y) {
  const { least, most } = catalogue.shades;
  const group = svg("g", { class: "scale" });
  const [from, wide, steps] = [-width + 6, 2 * width - 12, 40];
  for (let step = 0; step < steps; step += 1) {
    const size = least + ((step + 0.5) / steps) * (most - least);
    group.append(
      svg("rect", {
        x: from + (step * wide) / steps,
        y,
        width: wide / steps + 0.3,
        height: 5,
        fill: shade(size, catalogue.shades),
      }),
    );
  }
  for (let size = least; size <= most; size += 2) {
    const x = from + ((size - least) / (most - least)) * wide;
    group.append(
      svg(
        "text",
        { x, y: y + 14, "text-anchor": size === least ? "start" : size === most ? "end" : "middle" },
        size === most ? `${size} mm` : String(size),
      ),
    );
  }
  return group;
}

function caption(catalogue, drawn, missing, asked) {
  const said = [];
  if (drawn.length === 1)
    said.push(`Copy ${drawn[0].bed.specimen}, tip up. Each mesh is shaded by its own size; darker is tighter.`);
  if (drawn.length > 1)
    said.push("Laid over each other about the middle of the head, tip up. The square is one ball wide.");
  if (catalogue.bedless) said.push(catalogue.bedless);
  else if (missing.length)
    said.push(
      asked === 1
        ? "Nobody measured this bed, so there are no strings to draw."
        : `Not drawn, nobody measured it: ${missing.join(", ")}.`,
    );
  const made = html("figcaption", {}, said.join(" "));
  if (drawn.length > 1) made.prepend(lineKey(catalogue, drawn));
  return made;
}

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

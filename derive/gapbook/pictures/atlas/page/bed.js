// Beds drawn from their readings: one with every mesh shaded by its size, one shaded against the reference, whose strings lie
// over it, or up to three laid over each other.

import { hoopPath, meshesOf, shade, stringPaths } from "./bedshapes.js";
import { bedOf, fullName, isOwn } from "./catalogue.js";
import { differencesOf } from "./differing.js";
import { html, LETTERS, svg } from "./shapes.js";

const ROOM = 12;
const SCALE_MM = 50;
const KEY_STEPS = 40;

/** How the laid-out frames are drawn: "none", "one", "against" (one with the reference over it) or "over". */
export function kindOf(catalogue, laid, reference) {
  const drawn = laid.filter((frame) => bedOf(catalogue, frame));
  if (!drawn.length) return "none";
  if (laid.length > 1) return drawn.length > 1 ? "over" : "one";
  return reference >= 0 && reference !== laid[0] && bedOf(catalogue, reference) ? "against" : "one";
}

/** A figure of the beds of `laid` frames in `zone`, with words that say what is drawn. */
export function bedFigure(catalogue, laid, zone, reference) {
  const beds = laid.map((frame, number) => ({ frame, letter: LETTERS[number], bed: bedOf(catalogue, frame) }));
  const drawn = beds.filter((one) => one.bed);
  const kind = kindOf(catalogue, laid, reference);
  const other = kind === "against" ? { frame: reference, bed: bedOf(catalogue, reference) } : null;
  const made = html("figure", { class: "bed" });
  if (drawn.length) made.append(picture(catalogue, kind, drawn, other, zone));
  made.append(caption(catalogue, kind, beds, other));
  return made;
}

function picture(catalogue, kind, drawn, other, zone) {
  const all = other ? [...drawn, other] : drawn;
  const width = Math.max(...all.map(({ bed }) => bed.width)) / 2 + ROOM;
  const length = Math.max(...all.map(({ bed }) => bed.length)) / 2 + ROOM;
  const keyed = kind !== "over";
  const label = drawn.map(({ frame, bed }) => `${fullName(catalogue, frame)}, copy ${bed.specimen}`).join("; laid over it ");
  const made = svg("svg", {
    viewBox: `${-width} ${-length} ${2 * width} ${2 * length + (keyed ? 54 : 20)}`,
    role: "img",
    "aria-label": `The bed of ${label}${other ? `, shaded against ${fullName(catalogue, other.frame)}` : ""}`,
    class: kind === "over" ? "over" : "one",
  });
  if (kind === "over") drawn.forEach((one) => made.append(...overlaid(one)));
  else made.append(...single(catalogue, drawn[0].bed, other?.bed));
  made.append(...zoneFrames(catalogue, zone));
  drawn.forEach(({ bed, letter }) =>
    made.append(svg("path", { class: `hoop bed-${kind === "over" ? letter : "A"}`, d: hoopPath(bed) })),
  );
  made.append(scaleBar(-width + 6, length + 3));
  if (keyed) {
    const scale = other ? catalogue.differences : catalogue.shades;
    made.append(colourKey(scale, ["← tighter", "more open →"], width, length + 30));
  }
  return made;
}

/** One bed: meshes shaded, strings over them, all cut off at the hoop; those of another bed over it as thin lines. */
function single(catalogue, bed, other) {
  const clip = svg("clipPath", { id: "inside-A" }, svg("path", { d: hoopPath(bed) }));
  const cells = svg("g", { "clip-path": "url(#inside-A)" });
  if (other) cells.append(svg("path", { d: hoopPath(bed), class: "ground" }));
  cells.append(...(other ? differingCells(catalogue, bed, other) : sizedCells(catalogue, bed)));
  const { mains, crosses } = stringPaths(bed);
  for (const family of [crosses, mains]) {
    cells.append(svg("path", { class: "edge", d: family }), svg("path", { class: "core", d: family }));
  }
  if (!other) return [clip, cells];
  const outline = hoopPath(other);
  const lines = stringPaths(other);
  return [
    clip,
    svg("clipPath", { id: "inside-other" }, svg("path", { d: outline })),
    cells,
    svg("path", { class: "other-strings", d: lines.mains + lines.crosses, "clip-path": "url(#inside-other)" }),
    svg("path", { class: "other-hoop", d: outline }),
  ];
}

function sizedCells(catalogue, bed) {
  return meshesOf(bed).map(({ d, size }) => svg("path", { d, fill: shade(size, catalogue.shades) }));
}

/** Meshes whose difference is decided have its colour, the others none; where the other bed is not known they are grey. */
function differingCells(catalogue, bed, other) {
  return differencesOf(bed, other)
    .filter((one) => one.decided || one.difference === null)
    .map(({ corners, difference }) => {
      const d = `M${corners.map(([x, y]) => `${x.toFixed(2)} ${(-y).toFixed(2)}`).join("L")}z`;
      return difference === null
        ? svg("path", { d, class: "not-known" })
        : svg("path", { d, fill: shade(difference, catalogue.differences) });
    });
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
  return catalogue.words.zones[zone].windows.flatMap((name) => {
    const [left, low, side] = catalogue.windows[name];
    const square = { x: left, y: -low - side, width: side, height: side };
    return [svg("rect", { class: "window-edge", ...square }), svg("rect", { class: "window", ...square })];
  });
}

function scaleBar(x, y) {
  return svg(
    "g",
    { class: "scale" },
    svg("path", { d: `M${x} ${y}v4h${SCALE_MM}v-4` }),
    svg("text", { x: x + SCALE_MM + 5, y: y + 6 }, `${SCALE_MM} mm`),
  );
}

/** The colours of a scale from end to end, with words over the ends and figures below. */
function colourKey({ least, most, colours }, ends, width, y) {
  const group = svg("g", { class: "scale" });
  const [from, wide] = [-width + 6, 2 * width - 12];
  for (let step = 0; step < KEY_STEPS; step += 1) {
    const size = least + ((step + 0.5) / KEY_STEPS) * (most - least);
    const place = { x: from + (step * wide) / KEY_STEPS, y, width: wide / KEY_STEPS + 0.3, height: 6 };
    group.append(svg("rect", { ...place, fill: shade(size, { least, most, colours }) }));
  }
  const figures = [least, (least + most) / 2, most].map((value) => `${value < 0 ? "−" : ""}${Math.abs(value)}`);
  ["start", "middle", "end"].forEach((anchor, place) => {
    const x = from + (place / 2) * wide;
    const text = `${figures[place]}${place === 2 ? " mm" : ""}`;
    group.append(svg("text", { x, y: y + 19, "text-anchor": anchor }, text));
  });
  ["start", "end"].forEach((anchor, place) => {
    group.append(svg("text", { x: from + place * wide, y: y - 4, "text-anchor": anchor }, ends[place]));
  });
  return group;
}

function caption(catalogue, kind, beds, other) {
  const said = [];
  const [first] = beds.filter((one) => one.bed);
  if (kind === "one") said.push(`Copy ${first.bed.specimen}, tip up. Each mesh is shaded by its own size; darker is tighter.`);
  if (kind === "against")
    said.push(
      `Copy ${first.bed.specimen}, tip up; thin lines: ${catalogue.ids[other.frame]}. Colour shows where meshes differ; none: within the uncertainty of two gaps.`,
    );
  if (kind === "over") said.push("Laid over each other about the middle of the head, tip up. The square is one ball wide.");
  const missing = beds.filter((one) => !one.bed);
  if (catalogue.bedless) said.push(catalogue.bedless);
  else if (missing.some((one) => isOwn(catalogue, one.frame)))
    said.push("Your bed is known across one ball width only, so it is not drawn.");
  else if (missing.length)
    said.push(
      beds.length === 1
        ? "Nobody measured this bed, so there are no strings to draw."
        : `Not drawn, nobody measured it: ${missing.map((one) => one.letter).join(", ")}.`,
    );
  const made = html("figcaption", {}, said.join(" "));
  if (kind === "over") made.prepend(lineKey(catalogue, beds.filter((one) => one.bed)));
  return made;
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

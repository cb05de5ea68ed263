// The line of tightness: a rule in mm on which frames stand at their mesh. What is decided stands on it, what is too close
// to call hangs beneath it; each frame has a bar, its expanded uncertainty. The pointer names the frame it is at.

import { column, fullName } from "./catalogue.js";
import { openness } from "./compare.js";
import { COVERAGE, MESH, withU } from "./figures.js";
import { CLEAR, framesOf, nameWidth, placeFrames } from "./layout.js";
import { sureWords } from "./rows.js";
import { html, LETTERS, markPath, svg } from "./shapes.js";

const RULE = 46;
const HEAD = 24;
const MM_STEPS = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10];
/** Least distance of two ticks, and of two that have a number [px]. */
const FINEST_PX = 6;
const LABEL_PX = 46;
/** Where the tip is from the pointer [px]. */
const BESIDE = 14;
const BELOW = 18;
/** A name that is further than this from its bar has a line to it [px]. */
const LEADER_PX = 8;
const px = (value) => Math.round(10 * value) / 10;
const RUGS = { key: "", d: "" };

/** Draw the line into `host` [SVG element] at this width [px]; returns the frames with their places, for the pointer. */
export function drawLine(host, catalogue, state, groups, width) {
  const placed = framesOf(groups, catalogue, state);
  const spread = state.fit && placed.length ? placed.map((one) => one.frame) : [...catalogue.ids.keys()];
  if (state.reference >= 0) spread.push(state.reference);
  const scale = scaleOver(reach(catalogue, state.zone, spread), width);
  const known = state.reference < 0 ? null : openness(catalogue, state.reference, state.zone);
  const detail = placeFrames(placed, scale, known ? scale.x(known.value * MESH) : null);
  const top = HEAD + detail.above;
  const height = Math.ceil(top + RULE + detail.below + 4);
  for (const one of placed) {
    one.y = one.hangs ? top + RULE + CLEAR + detail.lane * one.lane : top - CLEAR - detail.lane * one.lane;
  }
  host.setAttribute("viewBox", `0 0 ${width} ${height}`);
  host.setAttribute("height", height);
  host.replaceChildren(
    band(catalogue, state, scale, height),
    ruleOf(catalogue, state, scale, top),
    ...bars(placed, detail),
    ...marks(placed, detail),
    ...(detail.name === "named" ? [names(placed)] : []),
    post(catalogue, state, scale, top, height),
    svg("g", { class: "laid" }),
    svg("g", { class: "pointed" }),
  );
  return { placed, scale, top, height, detail };
}

/** The reference's own uncertainty, as a band behind everything. */
function band(catalogue, state, scale, height) {
  const found = state.reference < 0 ? null : openness(catalogue, state.reference, state.zone);
  if (!found) return svg("g");
  const half = COVERAGE * found.u * MESH * scale.pixels;
  return svg("rect", {
    class: "band",
    x: px(scale.x(found.value * MESH) - half),
    y: HEAD,
    width: px(2 * half),
    height: height - HEAD,
  });
}

/** The reference's post, with its name at the top. */
function post(catalogue, state, scale, top, height) {
  const found = state.reference < 0 ? null : openness(catalogue, state.reference, state.zone);
  if (!found) return svg("g");
  const x = scale.x(found.value * MESH);
  const text = `${catalogue.ids[state.reference]}  ${withU(found.value, found.u, MESH)} mm`;
  const half = nameWidth(text) / 2 + 12;
  const at = Math.max(half, Math.min(scale.width - half, x));
  return svg(
    "g",
    { class: "post" },
    svg("path", { d: `M${px(x)} ${HEAD - 4}V${top}M${px(x)} ${top + RULE}V${height}` }),
    svg("rect", { x: px(at - half), y: 1, width: px(2 * half), height: 20, rx: 2 }),
    svg("text", { x: px(at), y: 15, "text-anchor": "middle" }, text),
  );
}

/** The rule: mm along its upper edge, gaps in one ball width along its lower one, and a tick for every frame there is. */
function ruleOf(catalogue, state, scale, top) {
  const { fine, labelled, decimals } = millimetres(scale);
  const line = (values, length) => values.map((mesh) => `M${px(scale.x(mesh))} ${top}v${length}`).join("");
  const balls = gapsInBall(scale, catalogue.windows.centre[2]);
  const foot = top + RULE;
  const made = svg("g", { class: "rule" }, svg("rect", { x: 0, y: top, width: scale.width, height: RULE }));
  made.append(svg("path", { class: "ticks", d: line(fine, 5) + line(labelled, 9) }));
  made.append(
    svg("path", {
      class: "ticks",
      d: balls.map((one) => `M${px(one.x)} ${foot}v${one.whole ? -9 : one.half ? -6 : -4}`).join(""),
    }),
  );
  made.append(
    svg("path", { class: "rug", d: rug(catalogue, state, scale), transform: `translate(0 ${top + RULE / 2})` }),
  );
  const inside = (x) => x > (scale.width < 600 ? 66 : 78) && x < scale.width - 12;
  made.append(
    svg("text", { x: 4, y: top + 19 }, "mm"),
    svg("text", { class: "balls", x: 4, y: foot - 12 }, "gaps a ball"),
  );
  for (const mesh of labelled)
    if (inside(scale.x(mesh)))
      made.append(svg("text", { x: px(scale.x(mesh)), y: top + 19, "text-anchor": "middle" }, mesh.toFixed(decimals)));
  let last = Infinity;
  for (const one of balls.filter((tick) => tick.whole || tick.half)) {
    if (!inside(one.x) || Math.abs(last - one.x) < 30) continue;
    made.append(svg("text", { class: "balls", x: px(one.x), y: foot - 12, "text-anchor": "middle" }, String(one.gaps)));
    last = one.x;
  }
  return made;
}

/** A small tick for each frame there is, whether or not it is shown; kept, since filters do not change it. */
function rug(catalogue, state, scale) {
  const own = catalogue.frames[`openness_${state.zone}`][catalogue.own.place];
  const key = [state.zone, own, scale.low, scale.high, scale.width].join(" ");
  if (RUGS.key === key) return RUGS.d;
  const places = new Set();
  for (const one of catalogue.frames[`openness_${state.zone}`]) if (one !== null) places.add(px(scale.x(one * MESH)));
  return Object.assign(RUGS, { key, d: [...places].map((x) => `M${x} -2v4`).join("") }).d;
}

/** Bars of all frames, one path for each kind and basis. */
function bars(placed, detail) {
  if (detail.name === "marks") return [];
  return byKind(placed, (one) => `M${px(one.from)} ${px(one.y)}H${px(one.to)}`).map(([kind, measured, d]) =>
    svg("path", { class: `bar ${kind} ${measured ? "measured" : "counted"} ${detail.name}`, d }),
  );
}

function marks(placed, detail) {
  if (detail.name === "marks") {
    return byKind(placed, (one) => `M${px(one.column)} ${px(one.y)}${one.kind === "wide" ? "v1" : "h0"}`).map(
      ([kind, , d]) => svg("path", { class: `speck ${kind}`, d }),
    );
  }
  return byKind(placed, (one) => markPath(one.kind, one.x, one.y, detail.mark)).map(([kind, measured, d]) =>
    svg("path", { class: `mark ${kind} ${measured ? "measured" : "counted"} ${detail.name}`, d }),
  );
}

function byKind(placed, draw) {
  const found = new Map();
  for (const one of placed) {
    const key = `${one.kind} ${one.measured}`;
    if (!found.has(key)) found.set(key, [one.kind, one.measured, []]);
    found.get(key)[2].push(draw(one));
  }
  return [...found.values()].map(([kind, measured, parts]) => [kind, measured, parts.join("")]);
}

function names(placed) {
  const group = svg("g", { class: "names" }, svg("path", { class: "leaders", d: placed.map(leader).join("") }));
  for (const { id, name, y, measured } of placed) {
    group.append(
      svg(
        "text",
        { class: measured ? null : "counted", ...nameAt(name, y) },
        id,
      ),
    );
  }
  return group;
}

function nameAt({ from, to, end }, y) {
  return { x: px(end ? to : from), y: px(y + 4), "text-anchor": end ? "end" : "start" };
}

/** A line from a bar to its name if they are apart. */
function leader({ name, from, to, y }) {
  const [start, stop] = name.end ? [name.to + 2, from - 2] : [to + 2, name.from - 2];
  return stop - start > LEADER_PX ? `M${px(start)} ${px(y)}H${px(stop)}` : "";
}

/** Mark the beds that are laid out, by letter. */
export function markLaid(host, line, laid) {
  const group = host.querySelector(".laid");
  group.replaceChildren();
  laid.forEach((frame, number) => {
    const one = line.placed.find((each) => each.frame === frame);
    if (!one) return;
    group.append(
      svg("path", { class: `ring bed-${LETTERS[number]}`, d: `M${px(one.from)} ${px(one.y)}H${px(one.to)}` }),
    );
    group.append(svg("circle", { class: `tag bed-${LETTERS[number]}`, cx: px(one.x), cy: px(one.y), r: 8 }));
    const letter = { class: "letter", x: px(one.x), y: px(one.y + 3.6), "text-anchor": "middle" };
    group.append(svg("text", letter, LETTERS[number]));
    if (one.name) group.append(nameAgain(one));
    if (line.detail.name !== "named") group.append(flag(one, line));
  });
}

/** Point at a frame: a hairline down to the rule, and its name if names are not shown. */
export function pointAt(host, line, one) {
  const group = host.querySelector(".pointed");
  group.replaceChildren();
  if (!one) return;
  group.append(
    svg("line", { x1: px(one.x), x2: px(one.x), y1: px(one.y), y2: one.hangs ? line.top + RULE : line.top }),
  );
  group.append(svg("path", { class: `bar ${one.kind} pointed-bar`, d: `M${px(one.from)} ${px(one.y)}H${px(one.to)}` }));
  group.append(one.name ? nameAgain(one) : flag(one, line));
}

/** The name of a frame once more over itself, underlined. */
function nameAgain(one) {
  return svg("text", { class: "again", ...nameAt(one.name, one.y) }, one.id);
}

function flag(one, line) {
  const half = nameWidth(one.id) / 2;
  const x = Math.max(half + 2, Math.min(line.scale.width - half - 2, one.x));
  return svg(
    "text",
    { class: "flag", x: px(x), y: px(one.y - 12 < 36 ? one.y + 22 : one.y - 12), "text-anchor": "middle" },
    one.id,
  );
}

/** The frame whose mark, bar or name is nearest to a point [px], or null if none is near. */
export function nearest(line, x, y) {
  let best = null;
  let least = 16;
  for (const one of line.placed) {
    const beside =
      line.detail.name === "marks"
        ? Math.abs(x - one.x)
        : Math.min(outside(one, x), one.name ? outside(one.name, x) : Infinity) + 0.02 * Math.abs(x - one.x) * !inName(one, x);
    const away = Math.hypot(beside, 1.2 * (y - one.y));
    if (away < least) [best, least] = [one, away];
  }
  return best;
}

function outside({ from, to }, x) {
  return Math.max(from - x, x - to, 0);
}

function inName({ name }, x) {
  return Boolean(name) && outside(name, x) === 0;
}

/** The meshes [mm] over which these frames spread, measured ones with their uncertainty. */
export function reach(catalogue, zone, frames) {
  let low = Infinity;
  let high = -Infinity;
  const { value, u } = column(catalogue, `openness_${zone}`);
  for (const frame of frames) {
    if (value[frame] == null) continue;
    const beyond = catalogue.measured[frame] ? COVERAGE * u[frame] : u[frame];
    low = Math.min(low, (value[frame] - beyond) * MESH);
    high = Math.max(high, (value[frame] + beyond) * MESH);
  }
  if (low > high) return { low: 9, high: 14 };
  const room = Math.max(0.15, 0.02 * (high - low));
  return { low: Math.max(0.5, low - room), high: high + room };
}

/** From mesh [mm] to pixels over `width`. */
export function scaleOver({ low, high }, width) {
  const pixels = width / (high - low);
  return { low, high, width, pixels, x: (mesh) => (mesh - low) * pixels };
}

/** Ticks of the mm scale: fine, and those with a number. */
export function millimetres(scale) {
  const fine = MM_STEPS.find((step) => step * scale.pixels >= FINEST_PX) ?? 10;
  const labelled = MM_STEPS.find((step) => step * scale.pixels >= LABEL_PX && isMultiple(step, fine)) ?? 10;
  return {
    fine: multiples(fine, scale),
    labelled: multiples(labelled, scale),
    decimals: labelled >= 1 ? 0 : labelled >= 0.1 ? 1 : 2,
  };
}

/** Ticks of the second scale: how many gaps fit into one ball width [mm]. */
export function gapsInBall(scale, ball) {
  const ticks = [];
  for (let quarter = 8; quarter <= 80; quarter += 1) {
    const mesh = ball / (quarter / 4);
    if (mesh < scale.low || mesh > scale.high) continue;
    ticks.push({ x: scale.x(mesh), gaps: quarter / 4, whole: quarter % 4 === 0, half: quarter % 4 === 2 });
  }
  return ticks;
}

function isMultiple(step, of) {
  const times = step / of;
  return Math.abs(times - Math.round(times)) < 1e-9;
}

function multiples(step, { low, high }) {
  const found = [];
  for (let k = Math.ceil(low / step); k * step <= high; k += 1) found.push(k * step);
  return found;
}

/** Listen to the pointer over `host`; `now` gives the line as it was drawn last and the zone, `picked` takes a frame. */
export function listenToPointer(host, tip, catalogue, now, picked) {
  const under = (event) => {
    const box = host.getBoundingClientRect();
    const { line } = now();
    const times = line.scale.width / box.width;
    return nearest(line, (event.clientX - box.left) * times, (event.clientY - box.top) * times);
  };
  const pointedAt = (one, event) => {
    pointAt(host, now().line, one);
    host.classList.toggle("over", Boolean(one));
    tip.hidden = !one;
    if (!one) return;
    tip.replaceChildren(...sentences(catalogue, one, now().zone).map((text) => html("span", {}, text)));
    const box = tip.parentElement.getBoundingClientRect();
    const left = event.clientX - box.left + BESIDE;
    tip.style.left = `${Math.max(0, Math.min(box.width - tip.offsetWidth, left))}px`;
    tip.style.top = `${event.clientY - box.top + BELOW}px`;
  };
  host.addEventListener("pointermove", (event) => pointedAt(under(event), event));
  host.addEventListener("pointerleave", () => pointedAt(null));
  host.addEventListener("click", (event) => {
    const one = under(event);
    if (one) picked(one.frame);
  });
}

function sentences(catalogue, one, zone) {
  const mesh = openness(catalogue, one.frame, zone);
  const said = [
    fullName(catalogue, one.frame),
    `${withU(mesh.value, mesh.u, MESH)} mm${one.measured ? "" : ", an estimate"}`,
  ];
  return one.found ? [...said, `${one.said}: ${sureWords(one.found)}`] : said;
}

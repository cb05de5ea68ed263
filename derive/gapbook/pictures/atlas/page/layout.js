// Where each frame is drawn: its mesh along the rule, its side of it, and its lane away from it, so that nothing overlaps.

import { column } from "./catalogue.js";
import { COVERAGE, MESH } from "./figures.js";
import { CLASSES } from "./shapes.js";

/** Distance between the rule and the first lane [px]. */
export const CLEAR = 8;
const MOST_NAMED = 300;
const NAME_GAP = 6;
/** Names stay this far from the reference's line [px]. */
const CLEAR_OF_POST = 6;
/** On a narrow page [px] names may take more height, since there one scrolls anyway. */
const NARROW = 760;
const ROOM_NARROW = 1.8;
const SPARE = 0.6;
const NAME_FONT = "11.5px system-ui, 'Segoe UI', 'DejaVu Sans', sans-serif";
/** How much is shown of each frame, as room allows: lane height, mark size, and how far a side may reach [px]. */
const DETAILS = [
  { name: "named", lane: 14, mark: 3.5, above: 480, below: 360 },
  { name: "bars", lane: 9, mark: 3, above: 330, below: 240 },
  { name: "thin", lane: 4, mark: 2, above: 330, below: 240 },
  { name: "marks", lane: 5, mark: 1.6, above: 260, below: 200 },
];

/** Every frame of the groups that is known in the zone: its row, mesh and half bar [mm], and whether it hangs below the rule. */
export function framesOf(groups, catalogue, state) {
  const shown = groups.filter((group) => group.key !== "unknown");
  const { value, u } = column(catalogue, `openness_${state.zone}`);
  return shown.flatMap((group) => {
    const kind = CLASSES[group.key];
    const hangs = kind === "close" && state.relation !== "like";
    return group.rows.map(({ frame, found, said }) => ({
      frame,
      found,
      said,
      kind,
      hangs,
      id: catalogue.ids[frame],
      measured: catalogue.measured[frame],
      mesh: value[frame] * MESH,
      half: COVERAGE * u[frame] * MESH,
    }));
  });
}

/**
 * Give every frame its place: x and bar [px] by the scale, and a lane by first fit, with as much detail as there is room for.
 * Names keep clear of the reference's `post` [px], if there is one. Returns that detail and how far each side of the rule
 * reaches [px].
 */
export function placeFrames(placed, scale, post = null) {
  for (const one of placed) {
    one.x = scale.x(one.mesh);
    one.from = scale.x(one.mesh - one.half);
    one.to = scale.x(one.mesh + one.half);
  }
  const sides = [placed.filter((one) => !one.hangs), placed.filter((one) => one.hangs)];
  for (const detail of DETAILS) {
    if (detail.name === "marks") return stacked(sides, detail);
    const laid = detail.name === "named" && placed.length > MOST_NAMED ? null : packed(sides, detail, scale.width, post);
    if (laid) return laid;
  }
  return null;
}

/** Both sides in lanes with this much detail, or null if there is no room for it. */
function packed(sides, detail, width, post) {
  const room = detail.name === "named" && width < NARROW ? ROOM_NARROW : 1;
  const spare = sides[1].length ? 0 : SPARE * detail.below; // if nothing hangs, the upper side may reach higher
  const most = [detail.above + spare, detail.below].map((height) => Math.floor((room * height) / detail.lane));
  const stretches = sides.map((side) => side.map((one) => stretch(one, detail, width, post)));
  if (stretches.some((side, number) => leastLanes(side, width) > most[number])) return null;
  const found = stretches.map(pack);
  return found.some(({ count }, number) => count > most[number]) ? null : given(sides, found, detail, detail.lane);
}

/** Marks only, stacked in columns as wide as a mark and as low as they must be. */
function stacked(sides, detail) {
  const wide = 2 * detail.mark + 1;
  const found = sides.map((side) =>
    stack(
      side.map((one) => one.x),
      wide,
    ),
  );
  for (const one of sides.flat()) one.column = (Math.floor(one.x / wide) + 0.5) * wide;
  const [above, below] = found.map(({ count }) => count || 1);
  return given(sides, found, detail, Math.min(detail.lane, detail.above / above, detail.below / below));
}

function given(sides, found, detail, lane) {
  sides.forEach((side, number) => side.forEach((one, place) => (one.lane = found[number].lanes[place])));
  const [above, below] = found.map(({ count }) => count * lane);
  return { ...detail, lane, above: Math.max(above + CLEAR, 30), below: below ? below + CLEAR : 0 };
}

/**
 * The stretch that a frame takes up in its lane: its bar, its mark, and its name if names are shown. The name is at the outer
 * end of the bar, or else at the other end, or beyond the post: where the rule does not end and no name lies over the post.
 */
function stretch(one, detail, width, post) {
  const left = one.kind === "tight" || (one.kind === "plain" && one.x < width / 2);
  const mark = detail.mark + 1.5;
  const bar = { left, from: Math.min(one.from, one.x - mark) - 1, to: Math.max(one.to, one.x + mark) + 1 };
  if (detail.name !== "named") return bar;
  const wide = nameWidth(one.id) + NAME_GAP;
  const ends = [bar.from - wide, bar.to + 3];
  const sides = post === null ? [] : [post - CLEAR_OF_POST - wide, post + CLEAR_OF_POST];
  // Over the outer part of its own bar, but not of its mark, or else beyond the post.
  const shifted = sides.filter((at) => (at < one.x ? at + wide < one.x - mark : at > one.x + mark));
  const beyond = sides.filter((at) => at + wide < bar.from || at > bar.to);
  const [near, far] = left ? [0, 1] : [1, 0];
  const clear = (at) => post === null || at >= post + CLEAR_OF_POST || at + wide <= post - CLEAR_OF_POST + 0.01;
  const fits = (at) => at >= 0 && at + wide <= width + NAME_GAP;
  const places = [ends[near], ends[far], ...shifted.filter((at) => !beyond.includes(at)), ...beyond];
  const at = places.find((place) => fits(place) && clear(place)) ?? places.find(fits) ?? ends[near];
  one.name = { from: at, to: at + wide - NAME_GAP + 3, end: at < one.x };
  return { left, from: Math.min(bar.from, at) - NAME_GAP, to: Math.max(bar.to, at + wide) };
}

const widths = new Map();
let pen = null;

/** How wide a name is [px]. */
export function nameWidth(name) {
  if (!widths.has(name)) {
    pen ??= document.createElement("canvas").getContext("2d");
    pen.font = NAME_FONT;
    widths.set(name, pen.measureText(name).width * 1.04);
  }
  return widths.get(name);
}

/**
 * The lane of each item (0 is nearest to the line). An item is a stretch [from, to], and no two in a lane touch. Items that
 * are `left` of the middle are placed first, from the middle leftwards, then the others rightwards. Returns the lanes in the
 * order of the items, and how many there are.
 */
export function pack(items) {
  const places = items.map((_, place) => place);
  const left = places.filter((place) => items[place].left).sort((a, b) => items[b].to - items[a].to || a - b);
  const right = places.filter((place) => !items[place].left).sort((a, b) => items[a].from - items[b].from || a - b);
  const lanes = new Array(items.length);
  const free = [];
  for (const place of left) {
    const { from, to } = items[place];
    const lane = first(free, (one) => to < one.low);
    free[lane] = { low: from, high: free[lane]?.high ?? to };
    lanes[place] = lane;
  }
  for (const place of right) {
    const { from, to } = items[place];
    const lane = first(free, (one) => from > one.high);
    free[lane] = { low: free[lane]?.low ?? from, high: to };
    lanes[place] = lane;
  }
  return { lanes, count: free.length };
}

function first(free, fits) {
  let lane = 0;
  while (lane < free.length && !fits(free[lane])) lane += 1;
  return lane;
}

/** The lane of each of these places if those within one column of this width are stacked. */
export function stack(places, wide) {
  const heights = new Map();
  const lanes = places.map((x) => {
    const column = Math.floor(x / wide);
    const lane = heights.get(column) ?? 0;
    heights.set(column, lane + 1);
    return lane;
  });
  return { lanes, count: Math.max(0, ...heights.values()) };
}

/** The least number of lanes that can hold the items, over a rule of this width. */
export function leastLanes(items, width) {
  let whole = 0;
  for (const { from, to } of items) whole += Math.min(to, width) - Math.max(from, 0);
  return Math.ceil(whole / width);
}

// The data of the page: frames column by column, and beds, which are unpacked when they are drawn.

const STEP_MM = 0.01;
const STEP_SLOPE = 1e-5;
const STEP_EXPONENT = 1e-3;
const STEP_U_MM = 0.001;

/** What a bed of one's own is called; no id of a frame has a space. */
export const YOURS = "your bed";

/**
 * The catalogue from the page's data; frames are known by their place in its columns. One place more, the last, is kept for a
 * bed of one's own, which `setOwn` puts there.
 */
export function readCatalogue(text) {
  const data = JSON.parse(text);
  const ids = data.frames.frame_id;
  const count = ids.length;
  const measured = data.frames.basis.map((basis) => basis === "measured");
  for (const values of Object.values(data.frames)) values.push(null);
  ids[count] = YOURS;
  const places = new Map(ids.map((id, place) => [id, place]));
  data.own.place = count;
  return { ...data, ids, count, frames: data.frames, places, measured: [...measured, true], hasOwn: false };
}

/** Put a bed of one's own {value, u} in its place, or take it away with null. */
export function setOwn(catalogue, own) {
  const { frames, own: kept } = catalogue;
  frames.openness_centre[kept.place] = own ? own.value : null;
  frames.u_openness_centre[kept.place] = own ? own.u : null;
  catalogue.hasOwn = Boolean(own);
}

/** The places of all frames, and that of one's own bed if there is one. */
export function everyPlace(catalogue) {
  return catalogue.count + (catalogue.hasOwn ? 1 : 0);
}

/** Whether a place is that of one's own bed. */
export function isOwn(catalogue, frame) {
  return frame === catalogue.own.place;
}

/** A figure of a frame with its standard uncertainty, or null if it is blank. */
export function figure(catalogue, frame, name) {
  const value = catalogue.frames[name]?.[frame] ?? null;
  const u = catalogue.frames[`u_${name}`]?.[frame] ?? null;
  return value === null || u === null ? null : { value, u };
}

/** A figure of all frames: values and standard uncertainties, null if blank. */
export function column(catalogue, name) {
  const blank = [];
  return { value: catalogue.frames[name] ?? blank, u: catalogue.frames[`u_${name}`] ?? blank };
}

/** A frame as its maker calls it. */
export function fullName(catalogue, frame) {
  if (isOwn(catalogue, frame)) return "Your bed";
  const { maker, model, edition } = catalogue.frames;
  const club = edition[frame] === "club" && !/club/i.test(model[frame] ?? "") ? " club" : "";
  return `${maker[frame] ?? ""} ${model[frame] ?? ""}${club}`.trim();
}

/** A string pattern, mains × crosses. */
export function pattern(catalogue, frame) {
  if (isOwn(catalogue, frame)) return "–";
  return `${catalogue.frames.mains[frame]}×${catalogue.frames.crosses[frame]}`;
}

/** The measured bed of a frame: mains x = at + slope·y and crosses y, all in mm from the head's centre; or null. */
export function bedOf(catalogue, frame) {
  const coded = catalogue.beds[frame];
  if (!coded) return null;
  const [specimen, width, length, exponent, at, slope, y, uMain, uCross] = coded;
  return {
    specimen,
    width: width * STEP_MM,
    length: length * STEP_MM,
    exponent: exponent * STEP_EXPONENT,
    mains: summed(at, STEP_MM),
    slopes: summed(slope, STEP_SLOPE),
    crosses: summed(y, STEP_MM),
    uMain: uMain * STEP_U_MM,
    uCross: uCross * STEP_U_MM,
  };
}

function summed(steps, unit) {
  let total = 0;
  return steps.map((step) => (total += step) * unit);
}

// The card beside the line: the bed that was picked, by name, its picture, its mesh zone by zone, and what can be done with it.

import { bedFigure } from "./bed.js";
import { fullName, isOwn, pattern } from "./catalogue.js";
import { contrast, openness, verdict } from "./compare.js";
import { MESH, plural, signed, squareInches, withU } from "./figures.js";
import { sureWords } from "./rows.js";
import { html, LETTERS, markIcon } from "./shapes.js";

/** Everything in the card for the frames laid out, of which the last one was picked. */
export function cardOf(catalogue, state, laid) {
  const made = laid.map((frame, number) => entry(catalogue, state, laid, frame, number));
  const shown = html("div", { class: laid.length > 1 ? "shown several" : "shown" });
  shown.append(bedFigure(catalogue, laid, state.zone, state.reference), zoneTable(catalogue, state, laid));
  return [...made, shown];
}

/** One frame: its name, what it is, the verdict, and its buttons. */
function entry(catalogue, state, laid, frame, number) {
  const made = html("div", { class: laid.length > 1 ? "entry short" : "entry" });
  const name = html("h3", {}, fullName(catalogue, frame));
  if (laid.length > 1) name.prepend(html("span", { class: `tag bed-${LETTERS[number]}` }, LETTERS[number]), " ");
  made.append(name, html("p", { class: "what" }, whatItIs(catalogue, frame)));
  const said = verdictLine(catalogue, state, frame);
  if (said) made.append(said);
  made.append(acts(catalogue, state, laid, frame));
  return made;
}

function whatItIs(catalogue, frame) {
  if (isOwn(catalogue, frame)) return "as you typed it, across one ball width";
  const area = catalogue.frames.head_area_cm2[frame];
  const head = `${squareInches(area, catalogue.words.factors["[sin_i]"])} sq in`;
  const basis = catalogue.measured[frame]
    ? `measured, ${plural(catalogue.frames.specimens[frame], "copy", "copies")}`
    : "counted: an estimate";
  return `${catalogue.ids[frame]}, ${pattern(catalogue, frame)}, ${head}, ${basis}`;
}

/** The verdict against the reference in the zone asked about, with its mark; null if there is none. */
function verdictLine(catalogue, state, frame) {
  if (state.reference < 0) return null;
  if (frame === state.reference) return html("p", { class: "said" }, "The reference.");
  const found = contrast(catalogue, frame, state.reference, state.zone);
  const place = catalogue.words.zones[state.zone].place;
  if (!found) return html("p", { class: "said" }, `Not known ${place}.`);
  const said = verdict(found, Number(state.confidence) / 100);
  const than = said === "too close to call" ? "against" : "than";
  const by = `${withU(found.percent, found.uPercent, 1, true)} %`;
  const line = html("p", { class: "said" }, markIcon(said), html("strong", {}, said), ` ${place} ${than} `);
  line.append(`${catalogue.ids[state.reference]}: mesh `, html("span", { class: "whole" }, by), ", ");
  line.append(html("span", { class: "whole" }, sureWords(found)));
  return line;
}

/** The mesh of every zone: of the beds laid out; of a single one also how it differs from the reference, with the verdict. */
function zoneTable(catalogue, state, laid) {
  const alone = laid.length === 1;
  const against = alone && state.reference >= 0 && state.reference !== laid[0];
  const titles = alone ? ["mesh, mm", ...(against ? ["differs, %"] : [])] : laid.map((_, number) => `${LETTERS[number]}, mm`);
  const head = html("tr", {}, html("th", { scope: "col" }, "zone"), ...titles.map((one) => html("th", { scope: "col" }, one)));
  const caption = html("caption", { class: "unseen" }, "Mesh by zone, ± at k = 2");
  const body = html("tbody");
  for (const zone of Object.keys(catalogue.words.zones)) {
    const figures = laid.map((frame) => openness(catalogue, frame, zone));
    if (!figures.some(Boolean)) continue;
    const cells = figures.map((one) => html("td", {}, one ? withU(one.value, one.u, MESH) : "not known"));
    if (against) cells.push(differs(contrast(catalogue, laid[0], state.reference, zone), state));
    body.append(html("tr", { class: zone === state.zone ? "asked" : null }, html("th", { scope: "row" }, zone), ...cells));
  }
  return html("table", { class: "zones" }, caption, html("thead", {}, head), body);
}

function differs(found, state) {
  if (!found) return html("td", {}, "not known");
  const said = verdict(found, Number(state.confidence) / 100);
  return html("td", {}, markIcon(said), html("span", { class: "unseen" }, `${said} `), signed(found.percent, 1, true));
}

function acts(catalogue, state, laid, frame) {
  const kept = state.kept.includes(frame);
  const full = !kept && state.kept.length >= LETTERS.length - 1;
  const named = () => html("span", { class: "unseen" }, ` ${catalogue.ids[frame]}`);
  const button = (data, text, more = {}) => html("button", { type: "button", ...data, ...more }, text, named());
  const isReference = frame === state.reference;
  const reference = isReference ? "Reference" : "Use as reference";
  return html(
    "div",
    { class: "acts" },
    button({ "data-against": frame }, reference, { "aria-pressed": String(isReference) }),
    button({ "data-keep": frame }, kept ? "Kept" : "Keep", { "aria-pressed": String(kept), disabled: full ? "" : null }),
    button({ "data-away": frame }, "Put away"),
  );
}

// The page at work: one state, and everything on the page drawn from it.

import { blankState, fromAddress, toAddress } from "./address.js";
import { bedFigure } from "./bed.js";
import { besideTable } from "./beside.js";
import { bedOf, readCatalogue } from "./catalogue.js";
import { contrast, difference, phi, verdict, why } from "./compare.js";
import { choicesOf, fill, mark, prepare, read } from "./controls.js";
import { plural } from "./figures.js";
import { groupsOf, judge } from "./judging.js";
import { drawLine, listenToPointer, markLaid } from "./line.js";
import { Rows } from "./rows.js";
import { markIcon } from "./shapes.js";
import { whyPicture } from "./why.js";
import { describe, tell } from "./words.js";

/** Width of the line on paper [px]. */
const PAPER = 690;
const part = (id) => document.getElementById(id);
const catalogue = readCatalogue(part("data").textContent);
const form = part("question");
const host = part("line");
const rows = new Rows(part("rows"), part("rows-box"), catalogue);
prepare(form, catalogue);
const choices = choicesOf(form, catalogue);
let state = fromAddress(location.hash.slice(1), catalogue, choices);
let judged = null;
let groups = [];
let line = null;
let unknown = "";
let speaking = 0;
let writing = 0;
let lastWidth = widthOf(part("line-box").clientWidth);

function widthOf(box) {
  return Math.max(240, Math.floor(box));
}

/** Frames laid out: those kept, then the one looked at. */
function laid() {
  return state.look >= 0 && !state.kept.includes(state.look) ? [...state.kept, state.look] : state.kept;
}

/** Everything anew: after a change of the question. */
function update() {
  if (state.sort === "closest" && (state.reference < 0 || state.relation === "all"))
    form.elements.sort.value = state.sort = "tightest";
  judged = judge(state, catalogue);
  groups = groupsOf(judged, state);
  mark(form, state, judged.question.wrong, unknown);
  redraw();
  rows.show(groups, state, laid());
  layOut();
  sayTyped();
  speak(tell(judged, groups, state, catalogue));
}

/** The line alone: after a change of width. */
function redraw(width = lastWidth) {
  line = drawLine(host, catalogue, state, groups, width);
  markLaid(host, line, laid());
  part("detail").textContent = {
    named: "",
    bars: "Fewer frames, or a wider window, bring their names; point at one to see its own.",
    thin: "Fewer frames bring their names; point at one to see its own.",
    marks:
      "So many frames are marks only, in columns: fewer bring their bars and names, and pointing at one shows its own.",
  }[line.detail.name];
}

/** The beds laid out: pictures, figures and marks. */
function layOut() {
  const frames = laid();
  part("laid-empty").hidden = frames.length > 0;
  const made = frames.length ? [bedFigure(catalogue, frames, state.zone)] : [];
  const reasons = state.reference >= 0 ? whyPicture(catalogue, frames, state.reference, state.zone) : null;
  if (reasons) made.push(whyFigure(reasons));
  part("pictures").replaceChildren(...made);
  part("figures").replaceChildren(...(frames.length ? [besideTable(catalogue, state, frames)] : []));
  part("see").hidden = frames.length === 0;
  part("see-name").textContent = frames.length ? catalogue.ids[frames[frames.length - 1]] : "";
  clearTimeout(writing);
  writing = setTimeout(() => history.replaceState(null, "", `#${toAddress(state, catalogue)}`), 200);
}

function whyFigure(picture) {
  const figure = document.createElement("figure");
  const caption = document.createElement("figcaption");
  caption.textContent = `Why the mesh differs from ${catalogue.ids[state.reference]}’s: parts that add up (hundredths of a logarithm), ± at k = 2.`;
  figure.append(picture, caption);
  return figure;
}

/** After frames were picked, kept or put away. */
function picked() {
  markLaid(host, line, laid());
  rows.laid = laid();
  rows.state = state;
  rows.refresh(true);
  layOut();
  sayTyped();
}

function look(frame) {
  state.look = frame;
  picked();
}

function sayTyped() {
  const { question } = judged;
  const understood = !question.wrong.length && !unknown && !(judged.blank && question.relation);
  part("typed").textContent = understood ? describe(question, catalogue.words) : "…";
  const others = laid().filter((frame) => frame !== state.reference);
  const compare = state.reference >= 0 && others.length > 0;
  part("compared").hidden = !compare;
  part("compare").textContent = compare
    ? [catalogue.ids[state.reference], ...others.map((frame) => catalogue.ids[frame])].join(" ") +
      (state.zone === "centre" ? "" : ` --where ${state.zone}`)
    : "";
  part("hint").hidden = !(state.reference >= 0 && state.relation === "all");
}

/** The summary at once for the eye, and a little later for the ear, so that typing is not spoken over. */
function speak(text) {
  part("told").textContent = text;
  clearTimeout(speaking);
  speaking = setTimeout(() => (part("spoken").textContent = text), 600);
}

function keep(frame) {
  state.kept = state.kept.includes(frame)
    ? state.kept.filter((one) => one !== frame)
    : [...state.kept, frame].slice(0, 2);
  if (!state.kept.includes(frame)) state.look = frame;
  picked();
}

function putAway(frame) {
  state.kept = state.kept.filter((one) => one !== frame);
  if (state.look === frame) state.look = -1;
  picked();
}

function against(frame) {
  state.reference = frame === state.reference ? -1 : frame;
  unknown = "";
  fill(form, state, catalogue);
  update();
}

form.addEventListener("input", (event) => {
  if (
    event.target.name === "reference" &&
    !catalogue.places.has(event.target.value.trim().toLowerCase()) &&
    event.target.value
  )
    return;
  unknown = read(form, state, catalogue);
  update();
});
form.elements.reference.addEventListener("change", () => {
  unknown = read(form, state, catalogue);
  update();
});
form.elements.fit.addEventListener("input", () => {
  state.fit = form.elements.fit.checked;
  update();
});
form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("reset", (event) => {
  event.preventDefault();
  state = { ...blankState(catalogue), look: state.look, kept: state.kept };
  unknown = "";
  fill(form, state, catalogue);
  update();
});

part("rows").addEventListener("click", (event) => {
  const button = event.target.closest("tr")?.querySelector("button[data-frame]");
  if (!button) return;
  rows.at = rows.entries.findIndex((entry) => entry.row?.frame === Number(button.dataset.frame));
  look(Number(button.dataset.frame));
  if (document.activeElement === document.body) rows.focus();
});
part("rows").addEventListener("focusin", (event) => {
  const frame = event.target.dataset?.frame;
  const place = frame === undefined ? -1 : rows.entries.findIndex((entry) => entry.row?.frame === Number(frame));
  if (place >= 0) rows.at = place;
});
part("rows").addEventListener("keydown", (event) => {
  const step = { ArrowDown: 1, ArrowUp: -1, PageDown: 12, PageUp: -12, Home: -Infinity, End: Infinity }[event.key];
  if (step === undefined || event.altKey || event.ctrlKey || event.metaKey || !event.target.dataset?.frame) return;
  event.preventDefault();
  const frame = rows.move(step);
  if (frame === null) return;
  look(frame);
  rows.focus();
});
part("figures").addEventListener("click", (event) => {
  const { keep: kept, against: set, away } = event.target.closest("button")?.dataset ?? {};
  if (kept !== undefined) keep(Number(kept));
  if (set !== undefined) against(Number(set));
  if (away !== undefined) putAway(Number(away));
  const again = kept ?? set;
  if (again !== undefined)
    part("figures")
      .querySelector(`button[data-${kept === undefined ? "against" : "keep"}="${again}"]`)
      ?.focus();
  else if (away !== undefined) part("laid-title").focus();
});

listenToPointer(
  host,
  part("tip"),
  catalogue,
  () => ({ line, zone: state.zone }),
  (frame) => {
    const place = rows.entries.findIndex((entry) => entry.row?.frame === frame);
    if (place >= 0) rows.goTo(place);
    look(frame);
  },
);

part("copy").addEventListener("click", async () => {
  const text = `gapbook ask "${part("typed").textContent.replaceAll('"', "'")}"`;
  let copied = true;
  try {
    await navigator.clipboard.writeText(text);
  } catch {
    copied = false;
    getSelection().selectAllChildren(part("command"));
  }
  part("spoken").textContent = copied ? "Copied" : "Selected: copy it with your keyboard";
  part("copy").textContent = copied ? "Copied" : "Selected";
  setTimeout(() => (part("copy").textContent = "Copy"), 1500);
});

/** On paper every row is made, and the line drawn as wide as the paper. */
function forPaper(printing) {
  if (rows.whole === printing) return;
  rows.whole = printing;
  rows.refresh(true);
  redraw(printing ? PAPER : undefined);
}
addEventListener("beforeprint", () => forPaper(true));
addEventListener("afterprint", () => forPaper(false));
matchMedia("print").addEventListener("change", (event) => forPaper(event.matches));
addEventListener("hashchange", () => {
  state = fromAddress(location.hash.slice(1), catalogue, choices);
  unknown = "";
  fill(form, state, catalogue);
  update();
});
new IntersectionObserver(([entry]) => part("see").classList.toggle("seen", entry.isIntersecting)).observe(part("laid"));
new ResizeObserver(([entry]) => {
  const width = widthOf(entry.contentRect.width);
  if (width === lastWidth || !judged || rows.whole) return;
  lastWidth = width;
  redraw();
}).observe(part("line-box"));

part("package").textContent =
  `${catalogue.package.name} ${catalogue.package.version}: ${plural(catalogue.count, "frame")}, ${catalogue.measured.filter(Boolean).length.toLocaleString("en-GB")} measured`;
for (const place of document.querySelectorAll(".invented")) {
  place.textContent = catalogue.caution ? `${catalogue.caution}.` : "";
  place.hidden = !catalogue.caution;
}
part("key").replaceChildren(
  ...["tighter", "too close to call", "more open"].flatMap((key) => [
    markIcon(key),
    `${key}${key === "too close to call" ? " (hangs below)" : ""} `,
  ]),
);
fill(form, state, catalogue);
update();
/** For tests, and for whoever looks in the console. */
globalThis.gapbook = { catalogue, judge: () => judged, line: () => line, phi, difference, contrast, verdict, why, bedOf };

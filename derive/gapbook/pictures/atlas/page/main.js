// The page at work: one state, and everything on the page drawn from it.

import { blankState, fromAddress, OWN_FIELDS, toAddress } from "./address.js";
import { clauseWords } from "./also.js";
import { asked, clausesOfText } from "./asking.js";
import { besideTable } from "./beside.js";
import { cardOf } from "./card.js";
import { bedOf, isOwn, readCatalogue, setOwn } from "./catalogue.js";
import { contrast, difference, phi, sharedEffects, verdict, why } from "./compare.js";
import { choicesOf, fill, inOneLine, mark, prepare, read } from "./controls.js";
import { differencesOf } from "./differing.js";
import { MESH, plural, withU } from "./figures.js";
import { groupsOf, judge } from "./judging.js";
import { drawLine, listenToPointer, markLaid } from "./line.js";
import { namesOf, spelt } from "./naming.js";
import { ownOpenness, readingsOf } from "./ownbed.js";
import { Rows } from "./rows.js";
import { markIcon } from "./shapes.js";
import { whyPicture } from "./why.js";
import { describe, tell } from "./words.js";

/** Width of the line on paper [px]. */
const PAPER = 690;
/** Room between a mark and the card below it [px]. */
const CLEAR_OF_CARD = 24;
const part = (id) => document.getElementById(id);
const catalogue = readCatalogue(part("data").textContent);
const form = part("question");
const host = part("line");
const rows = new Rows(part("rows"), part("rows-box"), catalogue);
prepare(form, catalogue);
const called = namesOf(catalogue);
const choices = choicesOf(form, catalogue);
/** A window so narrow that the form is folded and the card is a sheet. */
const narrow = matchMedia("(max-width: 620px)");
const clausesIn = (text) => clausesOfText(text, catalogue, called);
let state = fromAddress(location.hash.slice(1), catalogue, choices, clausesIn);
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
  if (!catalogue.hasOwn) for (const name of ["reference", "look"]) if (isOwn(catalogue, state[name])) state[name] = -1;
  if (state.sort === "closest" && (state.reference < 0 || state.relation === "all"))
    form.elements.sort.value = state.sort = "tightest";
  judged = judge(state, catalogue);
  groups = groupsOf(judged, state);
  mark(form, state, judged.question.wrong, unknown);
  redraw();
  rows.show(groups, state, laid());
  layOut();
  sayTyped();
  sayAlso();
  part("one-line").textContent = inOneLine(state, catalogue);
  speak(tell(judged, groups, state, catalogue));
}

/** What is asked besides, each with a button that leaves it out. */
function sayAlso() {
  part("also").hidden = !state.also.length;
  part("also-list").replaceChildren(
    ...state.also.map((clause, place) => {
      const words = clauseWords(clause, catalogue);
      const button = document.createElement("button");
      Object.assign(button, { type: "button", textContent: `${words} ×` });
      button.setAttribute("aria-label", `Leave out: ${words}`);
      button.dataset.also = place;
      return button;
    }),
  );
}

/** Take up the bed that was typed: it stands on the line, and becomes the reference if there is none. */
function takeOwn() {
  const [mains, crosses] = [state.own_mains, state.own_crosses].map(readingsOf);
  const sound = mains && crosses && !mains.problem && !crosses.problem;
  const found = sound ? ownOpenness(mains, crosses, catalogue.own.rules) : null;
  const before = catalogue.hasOwn;
  setOwn(catalogue, found?.value ? found : null);
  if (catalogue.hasOwn && !before && state.reference < 0) state.reference = catalogue.own.place;
  part("own-said").textContent = ownWords(mains, crosses, found);
  for (const [name, one] of [["own_mains", mains], ["own_crosses", crosses]])
    form.elements[name].setAttribute("aria-invalid", String(Boolean(one?.problem)));
}

function ownWords(mains, crosses, found) {
  for (const [name, one] of [["Mains", mains], ["Crosses", crosses]]) if (one?.problem) return `${name}: ${one.problem}.`;
  if (!found) return mains || crosses ? `Now the ${mains ? "crosses" : "mains"}.` : "";
  const { rules } = catalogue.own;
  if (!found.value) {
    const covered = Math.round(found.coverage * rules.ball);
    return `These strings cover ${covered} mm of the ball's ${rules.ball} mm; at least ${Math.ceil(rules.coverage * rules.ball)} mm are needed.`;
  }
  const read = ({ kind }, gaps) => `${gaps} ${kind === "mark" ? "by marks of a rule" : "with a calliper"}`;
  const gaps = `${read(mains, found.gaps[0])} across the mains, ${read(crosses, found.gaps[1])} across the crosses`;
  return `Your bed: mesh ${withU(found.value, found.u, MESH)} mm in the centre. Gaps read: ${gaps}. ± at k = 2, without the spread between copies.`;
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

/** The beds laid out: the card, figures and reasons. */
function layOut() {
  const frames = laid();
  part("card-empty").hidden = part("laid-empty").hidden = frames.length > 0;
  part("card").classList.toggle("filled", frames.length > 0);
  part("card-body").replaceChildren(...(frames.length ? cardOf(catalogue, state, frames) : []));
  const reasons = state.reference >= 0 ? whyPicture(catalogue, frames, state.reference, state.zone) : null;
  part("why").replaceChildren(...(reasons ? [whyFigure(reasons)] : []));
  part("figures").replaceChildren(...(frames.length ? [besideTable(catalogue, state, frames)] : []));
  clearTimeout(writing);
  writing = setTimeout(() => history.replaceState(null, "", `#${toAddress(state, catalogue)}`), 200);
}

function whyFigure(picture) {
  const figure = document.createElement("figure");
  const caption = document.createElement("figcaption");
  caption.textContent = `Why the mesh differs from ${catalogue.ids[state.reference]}’s: parts are log-percentages and add up, ± at k = 2.`;
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
  const understood = !question.wrong.length && !unknown && !(judged.blank && question.relation) && !question.relation?.own;
  part("typed").textContent = understood ? describe(question, catalogue.words) : "…";
  const others = laid().filter((frame) => frame !== state.reference && !isOwn(catalogue, frame));
  const compare = state.reference >= 0 && !isOwn(catalogue, state.reference) && others.length > 0;
  part("compared").hidden = !compare;
  part("compare").textContent = compare
    ? [catalogue.ids[state.reference], ...others.map((frame) => catalogue.ids[frame])].join(" ") +
      (state.zone === "centre" ? "" : ` --where ${state.zone}`)
    : "";
  part("hint").hidden = !(state.reference >= 0 && state.relation === "all");
}

/** The summary at once for the eye, and a little later for the ear, so that typing is not spoken over. */
function speak(told) {
  const text = told.replace(/ %/g, "\u00a0%");
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

/** Answer a question in somebody's own words, or say what was not understood and what to type instead. */
function askInWords(text) {
  if (!text.trim()) return;
  const found = asked(text, catalogue, called);
  if (found.problem) {
    const typed = text.trim().replaceAll('"', "'");
    part("heard").replaceChildren(`Not answered: ${found.problem}. The command line understands more: `, codeOf(`gapbook ask "${typed}"`));
    return;
  }
  const { look: wanted, kept, own_mains, own_crosses } = state;
  if (Object.keys(found.fields).length)
    state = { ...blankState(catalogue), look: wanted, kept, own_mains, own_crosses, ...found.fields };
  if (found.look >= 0) state.look = found.look;
  unknown = "";
  fill(form, state, catalogue);
  update();
  part("heard").textContent = found.note;
  if (narrow.matches) part("asked").open = false;
}

function codeOf(text) {
  const code = document.createElement("code");
  code.textContent = text;
  return code;
}

form.addEventListener("input", ({ target }) => {
  if (target.name === "reference" && target.value && !called.has(spelt(target.value))) return;
  unknown = read(form, state, catalogue, called);
  if (OWN_FIELDS.includes(target.name)) {
    takeOwn();
    form.elements.reference.value = state.reference < 0 ? "" : catalogue.ids[state.reference];
  }
  update();
});
form.elements.reference.addEventListener("change", () => {
  unknown = read(form, state, catalogue, called);
  update();
});
part("ask").addEventListener("submit", (event) => {
  event.preventDefault();
  askInWords(part("own-words").value);
});
form.elements.fit.addEventListener("input", () => {
  state.fit = form.elements.fit.checked;
  update();
});
part("also").addEventListener("click", (event) => {
  const place = event.target.closest("button")?.dataset.also;
  if (place === undefined) return;
  state.also = state.also.filter((_, each) => each !== Number(place));
  update();
});
form.addEventListener("submit", (event) => event.preventDefault());
form.addEventListener("reset", (event) => {
  event.preventDefault();
  const { look: wanted, kept, own_mains, own_crosses } = state;
  state = { ...blankState(catalogue), look: wanted, kept, own_mains, own_crosses };
  unknown = "";
  part("heard").textContent = part("own-words").value = "";
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
part("card").addEventListener("click", (event) => {
  const { keep: kept, against: set, away } = event.target.closest("button")?.dataset ?? {};
  if (kept !== undefined) keep(Number(kept));
  if (set !== undefined) against(Number(set));
  if (away !== undefined) putAway(Number(away));
  const again = kept ?? set;
  if (again !== undefined)
    part("card")
      .querySelector(`button[data-${kept === undefined ? "against" : "keep"}="${again}"]`)
      ?.focus({ preventScroll: true });
  else if (away !== undefined) part("card").focus({ preventScroll: true });
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
    keepInSight(frame);
  },
);

/** If the card, where it is a sheet, covers the mark that was picked, scroll just so far that it does not. */
function keepInSight(frame) {
  const one = line.placed.find((each) => each.frame === frame);
  if (!one || getComputedStyle(part("card")).position !== "fixed") return;
  const box = host.getBoundingClientRect();
  const covered = box.top + (one.y * box.width) / line.scale.width + CLEAR_OF_CARD - part("card").getBoundingClientRect().top;
  if (covered > 0) scrollBy({ top: covered });
}

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

/** The form is open in a wide window, and folded to one line in a narrow one. */
function fold() {
  part("asked").open = !narrow.matches;
}

/** Everything from the state. */
function start() {
  unknown = "";
  fill(form, state, catalogue);
  takeOwn();
  part("own").open = catalogue.hasOwn;
  fill(form, state, catalogue);
  update();
}

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
  state = fromAddress(location.hash.slice(1), catalogue, choices, clausesIn);
  start();
});
narrow.addEventListener("change", fold);
new ResizeObserver(([entry]) => {
  const width = widthOf(entry.contentRect.width);
  if (width === lastWidth || !judged || rows.whole) return;
  lastWidth = width;
  redraw();
}).observe(part("line-box"));

part("package").textContent =
  `${catalogue.package.name} ${catalogue.package.version}: ${plural(catalogue.count, "frame")}, ${catalogue.measured.filter((one, frame) => one && !isOwn(catalogue, frame)).length.toLocaleString("en-GB")} measured`;
for (const place of document.querySelectorAll(".invented")) {
  place.textContent = catalogue.caution ? `${catalogue.caution}.` : "";
  place.hidden = !catalogue.caution;
}
part("key").replaceChildren(
  ...["tighter", "too close to call", "more open"].map((key) => {
    const item = document.createElement("span");
    item.append(markIcon(key), `${key}${key === "too close to call" ? " (hangs below)" : ""}`);
    return item;
  }),
);
fold();
start();
/** For tests, and for whoever looks in the console. */
globalThis.gapbook = {
  catalogue, judge: () => judged, line: () => line, phi, difference, contrast, verdict, why, bedOf, differencesOf, readingsOf, ownOpenness,
  sharedEffects,
  asked: (text) => asked(text, catalogue, called),
};

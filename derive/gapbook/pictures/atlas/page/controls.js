// The question as a sentence to be filled in: what its fields say, and what is wrong with them.

import { FIELDS, OWN_FIELDS } from "./address.js";
import { clauseWords } from "./also.js";
import { fullName, isOwn } from "./catalogue.js";
import { plural } from "./figures.js";
import { frameCalled } from "./naming.js";
import { html } from "./shapes.js";

/** Values that each select has, and the catalogue's patterns. */
export function choicesOf(form, catalogue) {
  const choices = { patterns: patternsOf(catalogue).map(([name]) => name) };
  for (const name of FIELDS) {
    const field = form.elements[name];
    if (field.tagName === "SELECT") choices[name] = [...field.options].map((option) => option.value);
  }
  return choices;
}

function patternsOf(catalogue) {
  const { mains, crosses } = catalogue.frames;
  const counts = new Map();
  mains.forEach((count, frame) => {
    if (count === null) return;
    const name = `${count}×${crosses[frame]}`;
    counts.set(name, (counts.get(name) ?? 0) + 1);
  });
  return [...counts].sort(([a], [b]) => parseInt(a, 10) - parseInt(b, 10) || a.localeCompare(b));
}

/** Fill in what depends on the catalogue: zones, patterns, and the names to choose a reference from. */
export function prepare(form, catalogue) {
  for (const zone of Object.keys(catalogue.words.zones)) {
    form.elements.zone.append(html("option", { value: zone }, catalogue.words.zones[zone].place));
  }
  for (const [key, { words }] of Object.entries(catalogue.words.orders)) form.elements.sort.append(html("option", { value: key }, words));
  const box = form.querySelector(".patterns");
  for (const [name, count] of patternsOf(catalogue)) {
    const field = html("input", { type: "checkbox", name: "pattern", value: name });
    box.append(
      html(
        "label",
        { class: "chip" },
        field,
        html("span", {}, name, html("span", { class: "unseen" }, `, ${plural(count, "frame")}`)),
      ),
    );
  }
  const names = form.querySelector("datalist");
  form.elements.reference.addEventListener("focus", () => {
    if (names.childElementCount) return;
    const shown = catalogue.ids.filter((_, frame) => !isOwn(catalogue, frame) || catalogue.hasOwn);
    names.append(...shown.map((id) => html("option", { value: id }, fullName(catalogue, catalogue.places.get(id)))));
  });
}

/** Put a state into the fields. */
export function fill(form, state, catalogue) {
  for (const name of [...FIELDS, ...OWN_FIELDS]) if (form.elements[name].value !== state[name]) form.elements[name].value = state[name];
  form.elements.reference.value = state.reference < 0 ? "" : catalogue.ids[state.reference];
  for (const box of form.querySelectorAll("[name=pattern]")) box.checked = state.patterns.has(box.value);
  form.elements.basis.value = state.measuredOnly ? "measured" : "any";
  form.elements.fit.checked = state.fit;
}

/** What the fields say, put into the state; a reference nobody knows leaves the one there was. */
export function read(form, state, catalogue, names) {
  for (const name of [...FIELDS, ...OWN_FIELDS]) state[name] = form.elements[name].value;
  state.patterns = new Set([...form.querySelectorAll("[name=pattern]:checked")].map((box) => box.value));
  state.measuredOnly = form.elements.basis.value === "measured";
  state.fit = form.elements.fit.checked;
  const typed = form.elements.reference.value.trim();
  const frame = typed ? frameCalled(typed, names) : -1;
  if (frame !== null && isOwn(catalogue, frame) && !catalogue.hasOwn) return "Your bed is not typed yet: open “Your own bed”.";
  if (frame !== null) state.reference = frame;
  return frame === null ? unknownWords(typed, catalogue) : "";
}

/** What is asked in one line, for those who have folded the form. */
export function inOneLine(state, catalogue) {
  const { words } = catalogue;
  const place = words.zones[state.zone].place;
  const shown = { all: "all three ways", tighter: "tighter ones", more_open: "more open ones", like: `those within ${state.within} %` };
  const against = state.reference < 0 ? `All frames ${place}` : `Against ${catalogue.ids[state.reference]} ${place}: ${shown[state.relation]}`;
  const parts = [`${against}, sure at ${state.confidence} %`];
  const range = (key, name, unit) => {
    const [low, high] = [state[`${key}_low`], state[`${key}_high`]];
    if (low || high) parts.push(`${name} ${low && high ? (low === high ? low : `${low} to ${high}`) : low ? `from ${low}` : `to ${high}`} ${unit}`);
  };
  range("head", "head", words.units[state.headUnit]);
  range("mass", "mass", "g");
  range("swing", "swingweight", "");
  if (state.patterns.size) parts.push([...state.patterns].join(" or "));
  parts.push(...state.also.map((clause) => clauseWords(clause, catalogue)));
  if (state.measuredOnly) parts.push("measured only");
  return parts.join(", ").trim();
}

function unknownWords(typed, catalogue) {
  const start = typed.toLowerCase().replace(/\s+/g, "-").slice(0, 4);
  const near = catalogue.ids.filter((id) => id.includes(start)).slice(0, 3);
  return `No frame is called “${typed}”.${near.length ? ` Is it ${near.join(", ")}?` : ""}`;
}

/** Show which fields are not understood, and which do not apply. */
export function mark(form, state, wrong, unknown) {
  for (const name of ["head_low", "head_high", "mass_low", "mass_high", "swing_low", "swing_high", "within"]) {
    form.elements[name].setAttribute("aria-invalid", String(wrong.includes(name)));
  }
  form.elements.reference.setAttribute("aria-invalid", String(Boolean(unknown)));
  form.elements.relation.disabled = state.reference < 0;
  form.querySelector(".within").hidden = state.relation !== "like" || state.reference < 0;
  const closest = form.querySelector("option[value=closest]");
  closest.disabled = state.reference < 0 || state.relation === "all";
  const said = [unknown, wrong.length ? "Not understood: give plain numbers, the lower one first." : ""].filter(
    Boolean,
  );
  form.querySelector(".wrong").textContent = said.join(" ");
}

// What is asked stands in the page's address, so that it can be kept, sent and gone back to.

import { clauseWords } from "./also.js";

/** The fields of the sentence, as the state and the address call them. */
export const FIELDS = [
  "zone",
  "relation",
  "within",
  "confidence",
  "head_low",
  "head_high",
  "headUnit",
  "mass_low",
  "mass_high",
  "swing_low",
  "swing_high",
  "sort",
];

/** What somebody typed of a bed of their own. */
export const OWN_FIELDS = ["own_mains", "own_crosses"];
const LONGEST = 20;
const LONGEST_OWN = 300;

/** The state as it is before anything is asked. */
export function blankState(catalogue) {
  return {
    reference: -1,
    zone: "centre",
    relation: "all",
    within: catalogue.words.like_percent,
    confidence: String(Math.round(100 * catalogue.confidence)),
    head_low: "",
    head_high: "",
    headUnit: "[sin_i]",
    mass_low: "",
    mass_high: "",
    swing_low: "",
    swing_high: "",
    own_mains: "",
    own_crosses: "",
    patterns: new Set(),
    also: [],
    measuredOnly: false,
    sort: "tightest",
    fit: false,
    look: -1,
    kept: [],
  };
}

/** The state as what stands after # in an address; what is as it was to begin with is left out. */
export function toAddress(state, catalogue) {
  const blank = blankState(catalogue);
  const said = new URLSearchParams();
  if (state.reference >= 0) said.set("against", catalogue.ids[state.reference]);
  for (const name of [...FIELDS, ...OWN_FIELDS]) if (state[name] !== blank[name]) said.set(name, state[name]);
  if (state.patterns.size) said.set("patterns", [...state.patterns].map((one) => one.replace("×", "x")).join(" "));
  if (state.also.length) said.set("also", state.also.map((clause) => clauseWords(clause, catalogue)).join(", "));
  for (const name of ["measuredOnly", "fit"]) if (state[name]) said.set(name, "yes");
  if (state.look >= 0) said.set("look", catalogue.ids[state.look]);
  if (state.kept.length) said.set("kept", state.kept.map((frame) => catalogue.ids[frame]).join(" "));
  return said.toString();
}

/**
 * The state an address says; what is not understood in it is passed over. `choices` are the values that selects
 * have, `clauses` reads what is asked besides.
 */
export function fromAddress(text, catalogue, choices, clauses) {
  const said = new URLSearchParams(text);
  const state = blankState(catalogue);
  const frame = (id) => catalogue.places.get(id ?? "") ?? -1;
  const known = (ids) =>
    ids
      .split(" ")
      .map(frame)
      .filter((place) => place >= 0);
  for (const name of FIELDS) {
    const value = said.get(name);
    if (value !== null && value.length < LONGEST && (!choices[name] || choices[name].includes(value))) state[name] = value;
  }
  for (const name of OWN_FIELDS) state[name] = (said.get(name) ?? "").slice(0, LONGEST_OWN);
  state.reference = frame(said.get("against"));
  state.patterns = new Set(
    (said.get("patterns") ?? "")
      .split(" ")
      .map((one) => one.replace("x", "×"))
      .filter((one) => choices.patterns.includes(one)),
  );
  state.also = clauses((said.get("also") ?? "").slice(0, LONGEST_OWN));
  state.measuredOnly = said.has("measuredOnly");
  state.fit = said.has("fit");
  state.look = frame(said.get("look"));
  state.kept = [...new Set(known(said.get("kept") ?? ""))].slice(0, 2);
  return state;
}

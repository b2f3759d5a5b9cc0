// @ts-check
// The page "Tonight": shows the state the server sends and turns keys into notes. The entry line keeps the focus.
import { ask } from "./ask.js";
import { Entry, KINDS } from "./entry.js";
import { Rows, among, go, made, tell } from "./rows.js";
import { Store } from "./store.js";

const find = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
const SAY_AFTER_MS = 250;
let state = null, kinds = {}, people = [], known = new Map(), places = [], rowsOf = {}, missing, digitsAreGiven = false, saying = 0, whoAsked = "";

let wishedStep = -1; // where the words are to be while the note of it is on its way
const drafts = new Map(); // call -> what was noted of it and is not answered yet, so that quick keys add up

const store = new Store({ show, outbox, trouble: (words) => tell(find("trouble"), words), clash });
const entry = new Entry({
  people: () => people, kinds: () => kinds,
  there: () => new Set(state ? entries().map((one) => one.call) : []),
  take, fragment: (text) => { store.note("fragment", { text }, `fragment ${text}`); say(`Fragment ${text} noted`); },
  leave: () => toList(), chosen: who, refuse: (words) => say(words),
});

const entries = () => state.groups.flatMap((group) => group.entries);
const row = (call) => entries().find((one) => one.call === call);
const named = (call) => { const one = row(call); return `${call} ${(one && one.name) || (known.get(call) || {}).name || ""}`.trim(); };

function say(words) {
  clearTimeout(saying);
  saying = window.setTimeout(() => tell(find("said"), words), SAY_AFTER_MS);
}

// ---- showing

function show(next) {
  state = next;
  document.documentElement.classList.toggle("dark", state.dark);
  document.documentElement.classList.toggle("large", state.large);
  find("dark").setAttribute("aria-pressed", String(state.dark));
  find("large").setAttribute("aria-pressed", String(state.large));
  tell(find("net"), state.net);
  find("begin").hidden = state.opened;
  find("desk").hidden = !state.opened;
  find("clock").hidden = !state.clock;
  tell(find("clock"), state.clock);
  if (!state.opened) { showBegin(); return; }
  const ended = state.closed ? `closed at ${state.closed}` : `net control ${state.control} ${state.control_name}`;
  tell(find("where"), [`${state.on_words}`, ended.trim(), ...state.earlier].join(" · "));
  tell(find("counts"), state.counts);
  document.title = `${entries().length} in – ${state.net}`;
  showList(); showSteps(); showPlan(); showMissing();
  find("undo").toggleAttribute("disabled", !state.undo);
  find("undo").title = state.undo ? `Takes back: ${state.undo}` : "";
  find("redo").hidden = !state.redo;
  find("redo").title = state.redo ? `Notes again: ${state.redo}` : "";
  /** @type {HTMLInputElement} */ (find("complete")).checked = state.complete;
  if (document.activeElement === document.body && !document.querySelector("dialog[open]")) entry.focus();
}

function showBegin() {
  const on = /** @type {HTMLSelectElement} */ (find("begin-on"));
  if (!on.children.length) {
    for (const place of places) { const choice = /** @type {HTMLOptionElement} */ (made("option", place.words)); choice.value = place.on; on.append(choice); }
    for (const call of known.keys()) { const choice = made("option", ""); choice.setAttribute("value", call); find("willing").append(choice); }
  }
  const control = /** @type {HTMLInputElement} */ (find("begin-control"));
  if (!state.suggested) tell(find("begin-why"), state.suggested_why);
  if (state.suggested && !control.value) { control.value = state.suggested; tell(find("begin-why"), `${state.suggested} ${state.suggested_why}; write another call sign to change it.`); }
  if (document.activeElement === document.body) on.focus();
}

function showList() {
  for (const group of state.groups) {
    if (!rowsOf[group.kind]) rowsOf[group.kind] = new Rows(find("groups"), group.heading);
    const rows = rowsOf[group.kind];
    const caption = rows.table.querySelector("caption") || rows.table.insertBefore(made("caption", ""), rows.body);
    tell(caption, `${group.heading} (${group.entries.length})`);
    rows.show(group.entries.map(listRow));
  }
  find("none").hidden = entries().length > 0;
  find("fragments").replaceChildren(...state.fragments.map((one) => {
    const line = made("p", `Half heard: ${one.text} at ${one.time} `, "attention");
    const button = made("button", "It was …");
    button.addEventListener("click", () => resolve(one));
    line.append(button);
    return line;
  }));
}

function listRow(one) {
  const reads = [one.heard ? `I hear R${one.heard}` : "", one.given ? `hears me R${one.given}` : ""].filter(Boolean).join(", ");
  const marks = [one.emergency ? "EMERGENCY" : "", one.traffic ? "traffic" : "", ...one.waits, one.left ? "signed off" : "", one.known ? "" : "not in roster"].filter(Boolean).join(", ");
  const through = one.through ? `through ${one.through}${one.relay_heard ? ` R${one.relay_heard}` : ""}` : "";
  return {
    key: String(one.seq), classes: `${one.emergency ? "urgent" : ""} ${one.left ? "left" : ""}`.trim(),
    cells: [[one.call, "call"], [one.name, "name"], [[reads, through].filter(Boolean).join(", "), "read"], [[marks, one.remark].filter(Boolean).join("; "), `mark${one.known ? "" : " unknown"}`], [one.time, "time"]],
    label: [one.call, one.name, reads, through, marks, one.remark, `at ${one.time}`].filter(Boolean).join(", "),
  };
}

const stepShown = () => Math.min(wishedStep < 0 ? state.step : wishedStep, state.steps.length - 1);

function showSteps() {
  const step = state.steps[stepShown()];
  tell(find("step-place"), `${stepShown() + 1} of ${state.steps.length}`);
  tell(find("step-head"), step.heading);
  tell(find("step-words"), step.words || "Call for these now.");
}

function showPlan() {
  const plan = state.plan;
  tell(find("plan-words"), plan.words);
  find("plan-relays").replaceChildren(...plan.relays.map(([relay, serves]) => made("li", `${named(relay)} for ${serves}`)));
  tell(find("plan-out"), plan.left_out.length ? `Worked by nobody on the air: ${plan.left_out.join(", ")}.` : "");
  find("plan-changes").hidden = find("take").hidden = !plan.changes;
  tell(find("plan-changes"), plan.changes ? `New: ${plan.changes}.` : "");
}

function showMissing() {
  if (!missing) missing = new Rows(find("missing"), "Still to come");
  missing.show(state.plan.missing.map((one) => {
    const way = one.relay ? `ask ${one.relay}${one.willing ? "" : ", if it agrees"}: ${one.through}` : "";
    const done = [one.asked ? `asked ${one.asked}` : "", one.missed.length ? `not heard by ${one.missed.join(", ")}` : ""].filter(Boolean).join("; ");
    return {
      key: one.call, classes: one.asked ? "chosen" : "",
      cells: [[one.call, "call"], [one.name, "name"], [[way || one.directly, one.comes, done].filter(Boolean).join("; "), "quiet"]],
      label: `${one.call} ${one.name}${one.comes ? `, ${one.comes}` : ""}, ${one.directly}${way ? `, ${way}` : ""}${done ? `, ${done}` : ""}`,
    };
  }));
}

async function who(call) {
  if (whoAsked === call) return;
  whoAsked = call;
  let told = null;
  try {
    const answer = await fetch(`who?call=${encodeURIComponent(call)}`);
    if (answer.ok) told = await answer.json();
  } catch { whoAsked = ""; } // the desk is down: asked again with the next choice
  if (!told || whoAsked !== call) return;
  tell(find("who-name"), `${told.call_sign} ${told.name}`.trim());
  find("who-lines").replaceChildren(...told.lines.flatMap(([head, text]) => [made("dt", head), made("dd", text)]));
  find("who-notes").replaceChildren(...told.notes.map((text) => made("li", text)));
}

function outbox(notes) {
  if (!notes.length) { drafts.clear(); wishedStep = -1; }
  find("saving").hidden = !notes.length;
  const late = notes.length > 1 || store.wait > 100;
  find("unsaved").hidden = !(notes.length && late);
  tell(find("unsaved"), `Not on disk yet: ${notes.map((one) => one.words).join("; ")}`);
}

async function clash(note, events) {
  const again = await ask("Noted elsewhere meanwhile", `Another window noted: ${events.map((one) => one.words).join("; ")}. Yours was: ${note.words}.`, [], "Note mine too");
  if (again) store.note(note.kind, note.body, note.words);
}

// ---- noting

function take(call, read, one) {
  const there = drafts.has(call) ? { ...row(call), ...drafts.get(call) } : row(call);
  const kind = read.kind || (there ? there.kind : one ? one.kind : "base");
  const body = {
    call, kind, heard: read.heard ?? (there ? there.heard : null), given: read.given ?? (there ? there.given : null),
    through: read.through || (there ? there.through : ""), relay_heard: read.through ? read.heard : there ? there.relay_heard : null,
    remark: read.remark || (there ? there.remark : ""), traffic: read.traffic || Boolean(there && there.traffic), emergency: read.emergency || Boolean(there && there.emergency),
  };
  if (read.through) body.heard = null;
  drafts.set(call, body);
  store.note("checked in", body, `${call} checked in`);
  for (const want of read.waits || []) store.note("waits", { call, want }, `${call} ${want}`);
  if (read.emergency) tell(find("urgent"), `Emergency: ${named(call)}. Call the emergency number first.`);
  say(`${call} is in${one ? "" : ", not in the roster"}, ${entries().length + (there ? 0 : 1)} so far`);
  who(call);
}

/** An entry with what was noted of it and is not answered yet. */
const drafted = (one) => ({ ...one, ...drafts.get(one.call) });

function amend(one, changes, words) {
  const { call, kind, heard, given, through, relay_heard, remark, traffic, emergency } = drafted(one);
  const body = { call, kind, heard, given, through, relay_heard, remark, traffic, emergency, ...changes };
  drafts.set(call, body);
  store.note("amended", { of: one.seq, ...body }, words);
  say(words);
}

async function resolve(fragment) {
  const told = await ask(`Who was ${fragment.text}?`, "Leave it empty where it came to nothing.", [{ name: "call", label: "Call sign", value: "", most: 20 }], "Note it");
  if (!told) return;
  const call = told.call.trim().toUpperCase();
  store.note("resolved", { of: fragment.seq, call }, `${fragment.text} resolved`);
  if (call) take(call, { heard: null, given: null, kind: "", through: "", remark: "", traffic: false, emergency: false }, known.get(call));
  entry.focus();
}

function undo() {
  if (!state.undo_of) return;
  say(`Taken back: ${state.undo}`);
  store.note("undone", { of: state.undo_of }, `taken back: ${state.undo}`);
}

function redo() {
  if (!state.redo_of) return;
  say(`Noted again: ${state.redo}`);
  store.note("undone", { of: state.redo_of }, `noted again: ${state.redo}`);
}

function step(by) {
  const from = stepShown(), to = Math.max(0, Math.min(state.steps.length - 1, from + by));
  if (to === from) return;
  wishedStep = to;
  showSteps();
  say(state.steps[to].heading);
  store.note("at step", { step: to }, `step ${to + 1}`);
}

// ---- keys

function toList() {
  const rows = /** @type {HTMLElement[]} */ ([...find("groups").querySelectorAll("tr")]);
  if (!rows.length) { say("Nobody is on the list yet"); return; }
  const newest = entries().reduce((a, b) => (a.seq > b.seq ? a : b));
  go(find("groups"), rows.find((one) => one.dataset.key === String(newest.seq)));
}

async function onList(event) {
  const at = event.target instanceof HTMLElement ? event.target.closest("tr") : null;
  const listed = at && entries().find((other) => String(other.seq) === at.dataset.key), one = listed && drafted(listed);
  if (!one || event.ctrlKey || event.metaKey || event.altKey) return;
  if (among(find("groups"), event.key)) { event.preventDefault(); return; }
  const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
  const given = digitsAreGiven;
  digitsAreGiven = key === "g";
  if (key === "Escape" || key === "Enter") entry.focus();
  else if (/^[1-5]$/.test(key)) {
    if (one.through && !given) amend(one, { relay_heard: Number(key) }, `${one.through} hears ${one.call} R${key}`);
    else amend(one, given ? { given: Number(key) } : { heard: Number(key) }, given ? `${one.call} hears me R${key}` : `I hear ${one.call} R${key}`);
  } else if (key === "g") say("How does it hear you? 1 to 5");
  else if (KINDS[key]) amend(one, { kind: KINDS[key] }, `${one.call} ${KINDS[key]}`);
  else if (key === "t") amend(one, { traffic: !one.traffic }, `${one.call} ${one.traffic ? "has no traffic" : "has traffic"}`);
  else if (key === "e") { amend(one, { emergency: !one.emergency }, `${one.call} ${one.emergency ? "no emergency" : "emergency"}`); tell(find("urgent"), one.emergency ? "" : `Emergency: ${named(one.call)}. Call the emergency number first.`); }
  else if (key === "c" || key === "s") {
    const want = key === "c" ? "call back" : "second turn", waits = one.waits.includes(want);
    store.note(waits ? "served" : "waits", { call: one.call, want }, `${one.call} ${want}${waits ? " done" : ""}`);
    say(`${one.call} ${want}${waits ? " done" : ""}`);
  } else if (key === "l") { store.note("left", { call: one.call }, `${one.call} signed off`); say(`${one.call} signed off`); }
  else if (key === "u") undo();
  else if (key === "y") redo();
  else if (key === "r") { event.preventDefault(); const told = await ask(`Remark on ${one.call}`, "", [{ name: "remark", label: "Remark", value: one.remark, most: 500 }], "Note it"); if (told) amend(one, { remark: told.remark }, `remark on ${one.call}`); }
  else if (key === "n") { event.preventDefault(); const told = await ask(`Name of ${one.call}`, "", [{ name: "name", label: "Name", value: one.name }], "Note it"); if (told) store.note("named", { call: one.call, name: told.name }, `${one.call} named`); }
  else if (key === "w") { event.preventDefault(); const told = await ask(`Note on ${one.call}`, "It stays in this folder.", [{ name: "text", label: "Note", value: "", most: 500 }], "Note it"); if (told && told.text) { store.note("noted", { call: one.call, text: told.text }, `note on ${one.call}`); whoAsked = ""; } }
  else if (key === "x") { event.preventDefault(); const told = await ask(`Time of ${one.call}`, "", [{ name: "time", label: "Time", value: one.time, kind: "time" }], "Note it"); if (told) amend(one, { at: moved(one.at, one.time, told.time) }, `${one.call} at ${told.time}`); }
  else return;
  event.preventDefault();
}

/** The same day, so many minutes earlier or later. */
function moved(at, was, is) {
  const minutes = (text) => text.split(":").reduce((sum, part) => 60 * sum + Number(part), 0);
  let by = minutes(is) - minutes(was);
  if (by > 720) by -= 1440; else if (by < -720) by += 1440;
  return new Date(new Date(at).getTime() + by * 60000).toISOString();
}

function onMissing(event) {
  const at = event.target instanceof HTMLElement ? event.target.closest("tr") : null;
  const one = at && state.plan.missing.find((other) => other.call === at.dataset.key);
  if (!one || event.ctrlKey || event.metaKey || event.altKey) return;
  if (among(find("missing"), event.key)) { event.preventDefault(); return; }
  const key = event.key.toLowerCase(), relay = one.asked || one.relay;
  const blank = { heard: null, given: null, kind: "", remark: "", traffic: false, emergency: false, through: "" };
  if (key === "escape") entry.focus();
  else if (key === "a" && one.relay) { store.note("asked", { call: one.call, relay: one.relay }, `asked ${one.relay} for ${one.call}`); say(`Asked ${one.relay} to call ${one.call}`); }
  else if (/^[1-5]$/.test(key) && relay) { take(one.call, { ...blank, through: relay, heard: Number(key) }, known.get(one.call)); entry.focus(); }
  else if (key === "n") { const by = one.asked || state.control; store.note("missed", { call: one.call, by }, `${one.call} not heard by ${by}`); say(`${one.call} not heard by ${by}`); }
  else if (key === "d" || key === "enter") { take(one.call, blank, known.get(one.call)); entry.focus(); }
  else return;
  event.preventDefault();
}

document.addEventListener("keydown", (event) => {
  if (!state || !state.opened || document.querySelector("dialog[open]") || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "PageDown" || event.key === "PageUp") step(event.key === "PageDown" ? 1 : -1);
  else if (event.key === "F2") toList();
  else if (event.key === "F4") go(find("missing"), /** @type {HTMLElement | undefined} */ (find("missing").querySelector("tr") || undefined));
  else if (event.key === "F9") undo();
  else return;
  event.preventDefault();
});
find("groups").addEventListener("keydown", onList);
find("missing").addEventListener("keydown", onMissing);
for (const place of ["groups", "missing"]) {
  find(place).addEventListener("focusin", (event) => {
    const at = event.target instanceof HTMLElement ? event.target.closest("tr") : null;
    digitsAreGiven = false;
    if (at) who(place === "missing" ? at.dataset.key || "" : (entries().find((one) => String(one.seq) === at.dataset.key) || { call: "" }).call);
  });
  find(place).addEventListener("click", (event) => { const at = event.target instanceof HTMLElement ? event.target.closest("tr") : null; if (at) go(find(place), at); });
}

// ---- buttons

find("begin-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const control = /** @type {HTMLInputElement} */ (find("begin-control")).value.trim().toUpperCase();
  store.note("opened", { on: /** @type {HTMLSelectElement} */ (find("begin-on")).value, control }, "the net begins");
});
find("undo").addEventListener("click", () => { undo(); entry.focus(); });
find("redo").addEventListener("click", () => { redo(); entry.focus(); });
find("next").addEventListener("click", () => step(1));
find("back").addEventListener("click", () => step(-1));
find("dark").addEventListener("click", () => { store.note("screen", { dark: !state.dark, large: state.large }, "screen"); entry.focus(); });
find("large").addEventListener("click", () => { store.note("screen", { dark: state.dark, large: !state.large }, "screen"); entry.focus(); });
find("complete").addEventListener("change", () => store.note("list complete", { call: state.control, complete: /** @type {HTMLInputElement} */ (find("complete")).checked }, "list"));
find("take").addEventListener("click", async () => { try { const answer = await fetch("take-plan", { method: "POST" }); if (answer.ok) show(await answer.json()); } catch { say("The desk does not answer"); } entry.focus(); });
find("help").addEventListener("click", () => /** @type {HTMLDialogElement} */ (find("keys-help")).showModal());
find("hand").addEventListener("click", async () => {
  const told = await ask("Hand over", "Everything noted stays.", [{ name: "to", label: "Net control from here on", value: "", most: 20 }], "Hand over");
  if (told && told.to.trim()) { store.note("handed over", { to: told.to.trim().toUpperCase() }, `handed over to ${told.to}`); say(`Net control is ${told.to.toUpperCase()}`); }
  entry.focus();
});
find("go-on").addEventListener("click", async () => {
  const others = places.filter((place) => place.on !== state.on).map((place) => [place.on, place.words]);
  const told = await ask("Go on elsewhere", "A new list begins; this one is kept.", [{ name: "on", label: "Where", value: others[0] ? others[0][0] : "", choices: others }, { name: "control", label: "Net control", value: state.control, most: 20 }], "Go on");
  if (told && told.on) store.note("opened", { on: told.on, control: told.control.trim().toUpperCase() }, "the net goes on");
  entry.focus();
});
find("close").addEventListener("click", async () => {
  const waiting = entries().filter((one) => one.waits.length).map((one) => `${one.call} waits for ${one.waits.join(", ")}`);
  const told = await ask("Close the net", [state.counts, ...waiting, "Who was heard is stored for the next plans."].join(". "), [], "Close the net");
  if (told) { store.note("closed", {}, "the net is closed"); say("The net is closed and stored"); }
  entry.focus();
});

async function start() {
  const told = await (await fetch("roster")).json();
  people = told.people;
  kinds = told.kinds;
  known = new Map(people.map((one) => [one.call, one]));
  places = told.places;
  await store.start();
}
start();

// @ts-check
// The page "Plan": a station is changed on the map or by its fields, and what comes of it follows. Changes are
// words of the job ("QK3ABC height 15 m"); the roster changes only when it is written on purpose.
import { ask } from "./ask.js";
import { made, tell } from "./rows.js";

/** @type {any} */ const L = window["L"];
const find = (id) => /** @type {any} */ (document.getElementById(id));
const FIELDS = ["height", "power", "antenna", "direction", "backup"];
const KEPT = "variants";
let shown = null, stations = [], today = [], chosen = "", changes = [], asked = 0, coverage = null, markers = new Map(), lines = [];

const map = L.map("map", { zoomSnap: 0.25, preferCanvas: false, attributionControl: false });
L.control.scale({ imperial: true }).addTo(map);
map.createPane("plan").style.zIndex = 390;
map.createPane("ground").style.zIndex = 200;

async function post(path, body) {
  try {
    const answer = await fetch(`plan/${path}`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify({ channel: find("channel").value, changes, ...body }) });
    if (answer.ok) { tell(find("trouble"), ""); return answer; }
    tell(find("trouble"), (await answer.json()).why);
  } catch { tell(find("trouble"), "The desk does not answer; is it still running?"); }
  return null;
}

// ---- showing

function symbol(key) {
  const svg = new DOMParser().parseFromString(shown.map.symbols[key], "image/svg+xml").documentElement;
  return L.divIcon({ html: document.importNode(svg, true), className: "symbol", iconSize: [shown.map.symbol_size, shown.map.symbol_size] });
}

/** All links; in a crowded net those of the chosen station and of the plan, as on every map. */
function showLinks() {
  for (const line of lines) line.remove();
  lines = [];
  const data = shown.map;
  for (const link of data.links) {
    const style = data.styles[link.k], a = data.stations[link.a], b = data.stations[link.b];
    const layer = shown.layers.find((one) => one.key === link.k);
    if (!layer || !layer.visible) continue;
    if (data.focus.only && !style.plan && a.call !== chosen && b.call !== chosen) continue;
    const line = L.polyline([[a.lat, a.lon], [b.lat, b.lon]], { color: style.color, weight: style.weight, dashArray: style.dash, opacity: style.opacity, pane: style.plan ? "plan" : "overlayPane" });
    const wide = L.polyline(line.getLatLngs(), { weight: 14, opacity: 0 });
    wide.bindTooltip(`${a.call} – ${b.call}: ${data.qualities[link.f]}`);
    wide.on("click", (event) => { L.DomEvent.stopPropagation(event); profile(a.call, b.call); });
    lines.push(line.addTo(map));
    if (style.cased) lines.push(L.polyline(line.getLatLngs(), { color: data.paper, weight: style.weight / 2, pane: "plan" }).addTo(map));
    lines.push(wide.addTo(map));
  }
}

/** Of names that would lie over each other the one the plan needs more is shown; the chosen station's always. */
function thinNames() {
  if (!shown) return;
  const ranks = new Map(shown.map.stations.map((one) => [one.call, one.call === chosen ? 1000 : one.rank]));
  const names = [];
  for (const [call, marker] of markers) {
    const name = marker.getTooltip()?.getElement();
    if (name) names.push({ call, name, rank: ranks.get(call) || 0 });
  }
  const boxes = names.map((one) => one.name.getBoundingClientRect()); // all measured before anything changes
  const order = names.map((_, i) => i).sort((i, j) => names[j].rank - names[i].rank || (names[i].call < names[j].call ? -1 : 1));
  const kept = [];
  for (const i of order) {
    const box = boxes[i];
    const over = kept.some((k) => box.left < k.right && box.right > k.left && box.top < k.bottom && box.bottom > k.top);
    names[i].name.style.visibility = over ? "hidden" : "";
    if (!over) kept.push(box);
  }
}

function show(next) {
  shown = next;
  stations = next.stations || stations;
  showLinks();
  const data = shown.map;
  const there = new Set(data.stations.map((one) => one.call));
  for (const [call, marker] of markers) if (!there.has(call)) { marker.remove(); markers.delete(call); }
  for (const one of data.stations) {
    let marker = markers.get(one.call);
    const own = stations.find((other) => other.call === one.call);
    if (!marker) {
      marker = L.marker([one.lat, one.lon], { icon: symbol(one.symbol), draggable: Boolean(own), keyboard: true, title: one.title, alt: one.title });
      marker.bindTooltip(one.call, { permanent: true, direction: "right", offset: [8, 0], className: "call-label" });
      marker.on("click", () => choose(one.call));
      marker.on("dragend", () => { const at = marker.getLatLng(); choose(one.call); change(`${one.call} place ${at.lat.toFixed(5)},${at.lng.toFixed(5)}`); });
      markers.set(one.call, marker.addTo(map));
    }
    marker.setLatLng([one.lat, one.lon]);
    marker.setIcon(symbol(one.symbol));
    marker.getElement()?.classList.toggle("chosen", one.call === chosen);
  }
  thinNames();
  tell(find("sentence"), changes.length ? shown.sentence : shown.plan);
  find("rows").replaceChildren(...shown.rows.map(([what, before, after]) => {
    const row = made("tr", "", before === after ? "" : "differs");
    row.append(made("td", what), made("td", before), made("td", changes.length ? after : ""));
    return row;
  }));
  find("changes").replaceChildren(...changes.map((text) => {
    const item = made("li", `${text} `), button = made("button", "take back");
    button.setAttribute("aria-label", `take back ${text}`);
    button.addEventListener("click", () => { changes = changes.filter((other) => other !== text); follow(); });
    item.append(button);
    return item;
  }));
  find("clear").disabled = find("keep").disabled = find("save").disabled = !changes.length;
  fill();
}

function choose(call) {
  chosen = call;
  find("station").value = call;
  for (const [other, marker] of markers) marker.getElement()?.classList.toggle("chosen", other === call);
  if (shown && shown.map.focus.only) showLinks();
  thinNames();
  fill();
}

function fill() {
  const own = stations.find((one) => one.call === chosen) || today.find((one) => one.call === chosen);
  if (!own) return;
  find("f-place").value = `${own.latitude}, ${own.longitude}`;
  for (const name of FIELDS) find(`f-${name}`).value = own[name];
  find("f-direction").disabled = !own.direction;
  find("f-relay").checked = own.relay;
  find("f-control").checked = own.control;
  find("f-on").checked = !changes.includes(`without ${chosen}`);
}

// ---- changing

/** A later change of the same thing takes the place of the earlier one. */
function change(...texts) {
  for (const text of texts) {
    const [call, aspect] = text.split(" ");
    changes = changes.filter((other) => { const [c, a] = other.split(" "); return c !== call || a !== aspect; });
    changes.push(text);
  }
  follow();
}

async function follow() {
  const number = ++asked;
  tell(find("said"), "Planning …");
  const answer = await post("try", {});
  if (number !== asked) return; // a newer question is on its way
  if (!answer) { tell(find("said"), ""); return; }
  show(await answer.json());
  tell(find("said"), changes.length ? `Planned with ${changes.length} change${changes.length > 1 ? "s" : ""}` : "Today's net");
}

find("change").addEventListener("submit", (event) => {
  event.preventDefault();
  const own = stations.find((one) => one.call === chosen) || today.find((one) => one.call === chosen);
  if (!own) return;
  const texts = [], place = find("f-place").value.replace(/\s+/g, "");
  if (place && place !== `${own.latitude},${own.longitude}`) texts.push(`${chosen} place ${place}`);
  for (const name of FIELDS) {
    const value = find(`f-${name}`).value.trim();
    if (value !== own[name] && (value || name === "backup")) texts.push(`${chosen} ${name} ${value || "no"}`);
  }
  for (const name of ["relay", "control"]) if (find(`f-${name}`).checked !== own[name]) texts.push(`${chosen} ${name} ${own[name] ? "no" : "yes"}`);
  const off = `without ${chosen}`;
  if (!find("f-on").checked) { changes = changes.filter((one) => one !== off); changes.push(off); follow(); return; }
  changes = changes.filter((one) => one !== off);
  if (texts.length) change(...texts); else follow();
});
find("station").addEventListener("change", () => { choose(find("station").value); const marker = markers.get(chosen); if (marker) map.panTo(marker.getLatLng()); });
find("channel").addEventListener("change", follow);
find("clear").addEventListener("click", () => { changes = []; find("variants").value = ""; follow(); });

// ---- variants, kept by this browser

const kept = () => { try { return JSON.parse(localStorage.getItem(KEPT) || "{}"); } catch { return {}; } };

function listKept() {
  find("variants").replaceChildren(...["", ...Object.keys(kept())].map((name) => { const choice = made("option", name || "(today's net)"); choice.setAttribute("value", name); return choice; }));
}

find("keep").addEventListener("click", async () => {
  const told = await ask("Keep this variant", changes.join("; "), [{ name: "name", label: "Name", value: "" }], "Keep");
  if (!told || !told.name.trim()) return;
  localStorage.setItem(KEPT, JSON.stringify({ ...kept(), [told.name.trim()]: changes }));
  listKept();
  find("variants").value = told.name.trim();
  tell(find("name-head"), told.name.trim());
});
find("variants").addEventListener("change", () => {
  const name = find("variants").value;
  changes = name ? kept()[name] || [] : [];
  tell(find("name-head"), name || "Variant");
  follow();
});

find("save").addEventListener("click", async () => {
  const answer = await post("difference", {});
  if (!answer) return;
  const told = await answer.json();
  if (!told.changes.length) { tell(find("said"), "The roster says so already"); return; }
  const yes = await ask("Write into roster.csv?", `${told.changes.join("; ")}. The file as it is now is kept beside it.`, [], "Write it");
  if (!yes) return;
  const written = await post("save", { digest: told.digest });
  if (written) { const done = await written.json(); tell(find("said"), `Written; the roster before is ${done.kept}. The desk plans with it once it is started again.`); }
});

// ---- looking

async function profile(left, right) {
  const answer = await post("profile", { left, right });
  if (!answer) return;
  const picture = /** @type {HTMLImageElement} */ (made("img", ""));
  picture.alt = `Profile between ${left} and ${right}`;
  picture.src = URL.createObjectURL(await answer.blob());
  find("look").replaceChildren(made("h3", `${left} – ${right}`), picture);
  find("look").scrollIntoView({ block: "nearest" });
}

async function here(latitude, longitude) {
  const answer = await post("here", { latitude, longitude });
  if (!answer) return;
  const told = await answer.json();
  find("look").replaceChildren(made("h3", `From ${latitude.toFixed(4)}, ${longitude.toFixed(4)}`), ...told.kinds.map((one) =>
    made("p", `A ${one.kind} works about ${one.expected}: ${one.works.map(([call, chance]) => `${call} ${chance}`).join(", ") || "nobody"}`)));
  find("look").scrollIntoView({ block: "nearest" });
}
map.on("zoomend viewreset", thinNames);
map.on("click", (event) => here(event.latlng.lat, event.latlng.lng));

find("profile-key").addEventListener("click", async () => {
  const calls = /** @type {[string, string][]} */ (stations.map((one) => [one.call, `${one.call} ${one.name}`]));
  const told = await ask("Profile", "", [{ name: "left", label: "From", value: chosen || calls[0][0], choices: calls }, { name: "right", label: "To", value: calls[calls.length - 1][0], choices: calls }], "Show");
  if (told) profile(told.left, told.right);
});
find("here-key").addEventListener("click", async () => {
  const at = map.getCenter();
  const told = await ask("Worked from a place", "Latitude and longitude in degrees.", [{ name: "at", label: "Place", value: `${at.lat.toFixed(4)}, ${at.lng.toFixed(4)}` }], "Show");
  const numbers = told ? told.at.split(",").map(Number) : [];
  if (numbers.length === 2 && numbers.every(Number.isFinite)) here(numbers[0], numbers[1]);
});

find("cover").addEventListener("click", async () => {
  if (!chosen) return;
  const bar = find("bar");
  bar.hidden = false;
  const watch = setInterval(async () => { const now = await (await fetch("plan/progress")).json(); if (now.total) bar.value = now.done / now.total; }, 250);
  const answer = await post("coverage", { call: chosen });
  clearInterval(watch);
  bar.hidden = true;
  if (!answer) return;
  const told = await answer.json();
  if (coverage) coverage.remove();
  coverage = L.imageOverlay(told.picture, told.corners, { pane: "ground", opacity: 1 }).addTo(map);
  find("cover-words").replaceChildren(made("span", told.words), ...told.steps.flatMap((step) => {
    const swatch = made("span", "", "swatch");
    swatch.style.background = step.fill;
    return [made("br", ""), swatch, made("span", step.words)];
  }));
});

async function start() {
  const answer = await fetch("plan/start");
  const told = await answer.json();
  if (!answer.ok) { tell(find("trouble"), told.why); return; }
  tell(find("net"), told.net);
  stations = today = told.stations;
  find("channel").replaceChildren(...told.channels.map((name) => made("option", name)));
  find("station").replaceChildren(...stations.map((one) => { const choice = made("option", `${one.call} ${one.name}`.trim()); choice.setAttribute("value", one.call); return choice; }));
  L.imageOverlay("plan/relief.png", told.corners, { pane: "ground" }).addTo(map);
  map.fitBounds(told.map.bounds, { padding: [20, 20] });
  listKept();
  choose(stations[0].call);
  show(told);
  tell(find("said"), "Today's net");
}
start();

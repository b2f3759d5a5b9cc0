// @ts-check
// The entry line: an editable combobox. Any part of a call sign narrows the roster; what follows it is read as
// figures, kind and marks. The best match is chosen from the start, so Enter takes what eye and ear are told.

const MOST_SHOWN = 8;
export const KINDS = { f: "brief", p: "battery", i: "internet", m: "mobile", b: "base" };
const CALL_SHAPE = /^([A-Z0-9]{1,4}\/)?([A-Z][A-Z0-9]{0,2}|[0-9][A-Z][A-Z0-9]?)[0-9][A-Z0-9]{0,6}[A-Z](\/[A-Z0-9]{1,6}){0,3}(-[A-Z0-9]{1,2})?$/;

/** What stands on the line. @param {string} text */
export function readLine(text) {
  const [front, ...rest] = text.split(".");
  const remark = rest.join(".").trim();
  const words = front.trim().toUpperCase().split(/\s+/).filter(Boolean);
  const found = { part: words.shift() || "", half: false, heard: null, given: null, kind: "", traffic: false, emergency: false, through: "", relayHeard: null, remark, waits: [], odd: [] };
  if (found.part.endsWith("?")) { found.half = true; found.part = found.part.slice(0, -1); }
  while (words.length) {
    const word = words.shift() || "";
    if (word === "?") found.half = true;
    else if (/^[1-5]{1,2}$/.test(word)) {
      for (const digit of word) if (found.heard === null) found.heard = Number(digit); else found.given = Number(digit);
    } else if (word === "T") found.traffic = true;
    else if (word === "C") found.waits.push("call back");
    else if (word === "S") found.waits.push("second turn");
    else if (word === "!") found.emergency = true;
    else if (word === "V" && words.length) found.through = words.shift() || "";
    else if (word.length === 1 && KINDS[word.toLowerCase()]) found.kind = KINDS[word.toLowerCase()];
    else found.odd.push(word);
  }
  return found;
}

/** Those that match, most likely first; ties keep their order while a call is typed.
 * @param {any[]} people @param {string} part @param {Set<string>} there */
export function matching(people, part, there) {
  if (!part) return [];
  const rank = (call) => (call === part ? 0 : call.endsWith(part) ? 1 : call.startsWith(part) ? 2 : 3);
  return people.filter((one) => one.call.includes(part))
    .sort((a, b) => rank(a.call) - rank(b.call) || Number(there.has(a.call)) - Number(there.has(b.call)) || b.comes - a.comes || (a.call < b.call ? -1 : 1))
    .slice(0, MOST_SHOWN);
}

export class Entry {
  /** @param {{people: () => any[], kinds: () => Record<string, string>, there: () => Set<string>, take: (call: string, read: any, known: any) => void, fragment: (text: string) => void, leave: () => void, chosen: (call: string) => void, refuse: (words: string) => void}} desk */
  constructor(desk) {
    this.desk = desk;
    this.input = /** @type {HTMLInputElement} */ (document.getElementById("call"));
    this.list = /** @type {HTMLElement} */ (document.getElementById("likely"));
    this.will = /** @type {HTMLElement} */ (document.getElementById("will"));
    this.rows = Array.from({ length: MOST_SHOWN }, (_, number) => this.row(number));
    /** @type {any[]} */
    this.found = [];
    this.at = -1;
    this.input.addEventListener("input", () => this.narrow());
    this.input.addEventListener("keydown", (event) => this.key(event));
    this.input.addEventListener("blur", () => this.close());
  }

  row(number) {
    const item = document.createElement("li");
    item.id = `likely-${number}`;
    item.setAttribute("role", "option");
    item.append(document.createElement("b"), document.createElement("span"), document.createElement("span"));
    item.children[2].className = "quiet";
    item.addEventListener("mousedown", (event) => { event.preventDefault(); this.choose(number); this.enter(); });
    return item;
  }

  narrow() {
    const read = readLine(this.input.value);
    this.found = read.half ? [] : matching(this.desk.people(), read.part, this.desk.there());
    this.list.replaceChildren(...this.found.map((one, number) => {
      const item = this.rows[number];
      item.children[0].textContent = one.call;
      item.children[1].textContent = one.name;
      item.children[2].textContent = this.desk.there().has(one.call) ? "on the list" : `${this.desk.kinds()[one.kind]}${one.member ? "" : ", visitor"}`;
      return item;
    }));
    this.list.hidden = !this.found.length;
    this.input.setAttribute("aria-expanded", String(!this.list.hidden));
    this.choose(this.found.length ? 0 : -1);
  }

  choose(number) {
    this.at = number;
    this.found.forEach((_, k) => this.rows[k].setAttribute("aria-selected", String(k === number)));
    if (number < 0) this.input.removeAttribute("aria-activedescendant");
    else {
      this.input.setAttribute("aria-activedescendant", this.rows[number].id);
      this.rows[number].scrollIntoView({ block: "nearest" });
      this.desk.chosen(this.found[number].call);
    }
    this.tell();
  }

  tell() {
    const read = readLine(this.input.value);
    if (!read.part && !read.half) { this.will.textContent = ""; return; }
    if (read.half) { this.will.textContent = `Enter notes the fragment ${read.part || "?"}`; return; }
    const one = this.at >= 0 ? this.found[this.at] : null;
    const parts = [one ? `${one.call} ${one.name}`.trim() : `${read.part}, not in the roster`, this.desk.kinds()[read.kind || (one ? one.kind : "base")]];
    if (read.through) parts.push(`through ${this.relay(read.through)}`);
    if (read.heard) parts.push(`I hear it R${read.heard}`);
    if (read.given) parts.push(`it hears me R${read.given}`);
    for (const want of read.waits) parts.push(want);
    if (read.traffic) parts.push("has traffic");
    if (read.emergency) parts.push("EMERGENCY");
    if (read.odd.length) parts.push(`not understood: ${read.odd.join(" ")}`);
    this.will.textContent = `Enter checks in: ${parts.join(", ")}`;
  }

  /** A relay named by part of its call: the only or the likeliest on the list. */
  relay(part) {
    const on = [...this.desk.there()].filter((call) => call.includes(part)).sort((a, b) => Number(b.endsWith(part)) - Number(a.endsWith(part)));
    return on[0] || part;
  }

  key(event) {
    if (event.isComposing) return;
    if (event.key === "Enter") { event.preventDefault(); if (!event.repeat) this.enter(); }
    else if (event.key === "ArrowDown" || event.key === "ArrowUp") {
      event.preventDefault();
      if (this.list.hidden) { if (this.input.value) this.narrow(); return; }
      if (event.altKey) return;
      const step = event.key === "ArrowDown" ? 1 : -1, count = this.found.length;
      this.choose((this.at + step + count) % count);
    } else if (event.key === "Escape") {
      event.preventDefault();
      if (!this.list.hidden) this.close();
      else if (this.input.value) { this.input.value = ""; this.tell(); }
      else this.desk.leave();
    }
  }

  enter() {
    const read = readLine(this.input.value);
    if (read.half && read.part) { this.clear(); this.desk.fragment(read.part); return; }
    if (!read.part) return;
    if (read.odd.length) { this.desk.refuse(`Not understood: ${read.odd.join(" ")}. A dot begins a remark.`); return; }
    const one = this.at >= 0 ? this.found[this.at] : null;
    const call = one ? one.call : read.part;
    if (!one && !CALL_SHAPE.test(call)) { this.desk.refuse(`${call} is only part of a call sign nobody here has; end it with ? to note it as half heard.`); return; }
    if (read.through) read.through = this.relay(read.through);
    if (read.through && (!CALL_SHAPE.test(read.through) || read.through === call)) { this.desk.refuse(`${read.through} cannot be the relay for ${call}.`); return; }
    this.clear();
    this.desk.take(call, read, one);
  }

  clear() { this.input.value = ""; this.close(); this.tell(); }

  close() {
    this.found = [];
    this.list.hidden = true;
    this.input.setAttribute("aria-expanded", "false");
    this.at = -1;
    this.input.removeAttribute("aria-activedescendant");
  }

  focus() { this.input.focus(); }
}

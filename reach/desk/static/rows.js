// @ts-check
// Tables whose rows keep their element from one state to the next, so that focus stays where it is.

/** @param {string} tag @param {string} text @param {string} [name] */
export function made(tag, text, name) {
  const element = document.createElement(tag);
  if (text) element.textContent = text;
  if (name) element.className = name;
  return element;
}

/** Set a text only where it differs. @param {Element | null} element @param {string} text */
export function tell(element, text) { if (element && element.textContent !== text) element.textContent = text; }

export class Rows {
  /** @param {HTMLElement} place @param {string} label */
  constructor(place, label) {
    this.table = made("table", "");
    this.table.setAttribute("aria-label", label);
    this.body = made("tbody", "");
    this.table.append(this.body);
    place.append(this.table);
    /** @type {Map<string, HTMLTableRowElement>} */
    this.rows = new Map();
  }

  /** @param {{key: string, cells: [string, string][], classes: string, label: string}[]} wanted */
  show(wanted) {
    const keep = new Set(wanted.map((row) => row.key));
    for (const [key, row] of this.rows) if (!keep.has(key)) { row.remove(); this.rows.delete(key); }
    wanted.forEach((row, number) => {
      let element = this.rows.get(row.key);
      if (!element) {
        element = /** @type {HTMLTableRowElement} */ (made("tr", ""));
        element.tabIndex = -1;
        element.dataset.key = row.key;
        this.rows.set(row.key, element);
      }
      while (element.children.length > row.cells.length) element.lastChild?.remove();
      row.cells.forEach(([text, name], k) => {
        if (!element.children[k]) element.append(made("td", ""));
        element.children[k].className = name;
        tell(element.children[k], text);
      });
      element.className = `${row.classes}${element.classList.contains("chosen") ? " chosen" : ""}`.trim();
      element.setAttribute("aria-label", row.label);
      if (this.body.children[number] !== element) {
        const focused = document.activeElement === element;
        this.body.insertBefore(element, this.body.children[number] || null);
        if (focused) element.focus();
      }
    });
    const first = this.body.querySelector("tr");
    if (first && !this.body.querySelector('tr[tabindex="0"]')) /** @type {HTMLElement} */ (first).tabIndex = 0;
    this.table.hidden = !wanted.length;
  }
}

/** Up, Down, Home and End among rows; one of them can be reached by Tab. @param {HTMLElement} place */
export function among(place, key) {
  const rows = /** @type {HTMLElement[]} */ ([...place.querySelectorAll("tr")]);
  const at = rows.findIndex((row) => row === document.activeElement);
  const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: rows.length - 1 }[key];
  if (to === undefined || at < 0) return false;
  go(place, rows[Math.max(0, Math.min(rows.length - 1, to))]);
  return true;
}

/** @param {HTMLElement} place @param {HTMLElement | undefined} row */
export function go(place, row) {
  if (!row) return;
  for (const other of place.querySelectorAll("tr")) other.tabIndex = -1;
  row.tabIndex = 0;
  row.focus();
}

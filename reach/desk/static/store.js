// @ts-check
// What is noted goes to the server and counts only once it answers: until then it stays in the outbox and is sent
// again with the same token. One tab holds the stream of news and passes it on to the others.

/** @typedef {{kind: string, body: object, token: string, seen: number, words: string}} Note */

const FIRST_WAIT_MS = 100, LONGEST_WAIT_MS = 2000, SILENT_MS = 12000;

export class Store {
  /** @param {{show: (state: any) => void, outbox: (notes: Note[]) => void, trouble: (words: string) => void, clash: (note: Note, events: any[]) => void}} page */
  constructor(page) {
    this.page = page;
    this.seq = -1;
    /** @type {Note[]} */
    this.waiting = [];
    this.sending = false;
    this.wait = FIRST_WAIT_MS;
  }

  async start() {
    await this.refresh();
    const channel = new BroadcastChannel("desk");
    channel.onmessage = () => this.refresh();
    const follow = () => this.follow(() => { this.refresh(); channel.postMessage("news"); });
    if (navigator.locks) navigator.locks.request("desk-stream", () => new Promise(() => follow())); else follow();
  }

  /** @param {() => void} news */
  follow(news) {
    let stream = new EventSource("stream"), last = Date.now();
    const heard = (tell) => () => { last = Date.now(); if (tell) news(); };
    const listen = () => { for (const [name, tell] of [["seq", true], ["plan", true], ["beat", false]]) stream.addEventListener(String(name), heard(tell)); };
    listen();
    setInterval(() => {
      if (Date.now() - last < SILENT_MS) return;
      stream.close();
      stream = new EventSource("stream");
      last = Date.now();
      listen();
    }, 2000);
  }

  async refresh() {
    try {
      const answer = await fetch("state");
      if (answer.ok) this.take(await answer.json());
    } catch { /* the stream comes back by itself; the outbox says when something is not kept */ }
  }

  take(state) {
    if (state.seq < this.seq) return;
    this.seq = state.seq;
    this.page.show(state);
  }

  /** @param {string} kind @param {object} body @param {string} words what it is, for the line that waits */
  note(kind, body, words) {
    const token = [...crypto.getRandomValues(new Uint8Array(12))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    this.waiting.push({ kind, body, token, seen: this.seq, words });
    this.page.outbox(this.waiting);
    this.send();
  }

  async send() {
    if (this.sending) return;
    this.sending = true;
    while (this.waiting.length) {
      const note = this.waiting[0];
      let answer = null, told = null;
      try {
        answer = await fetch("note", {
          method: "POST", headers: { "Content-Type": "application/json" },
          body: JSON.stringify({ kind: note.kind, body: note.body, token: note.token, seen: note.seen }),
        });
        told = await answer.json();
      } catch { answer = null; }
      if (answer && answer.status !== 507) {
        this.waiting.shift();
        this.wait = FIRST_WAIT_MS;
        this.page.trouble("");
        if (answer.ok) {
          for (const later of this.waiting) later.seen = Math.max(later.seen, told.seq);
          this.take(told.state);
        } else if (answer.status === 409) { await this.refresh(); this.page.clash(note, told.events); }
        else this.page.trouble(`Not noted: ${told.why}`);
        this.page.outbox(this.waiting);
        continue;
      }
      this.page.trouble(told ? `Not on disk yet: ${told.why} The paper sheet goes on meanwhile.` : "Not on disk yet: the desk does not answer. What you type is kept here and sent again.");
      this.page.outbox(this.waiting);
      await new Promise((go) => setTimeout(go, this.wait));
      this.wait = Math.min(2 * this.wait, LONGEST_WAIT_MS);
    }
    this.sending = false;
  }
}

// What a hostile page in the same browser tries against the desk at `target`; each as [name, what it got].
async (target) => {
  const note = JSON.stringify({kind: "checked in", body: {call: "QK1B", kind: "base"}, token: "token-hostile", seen: null});
  const got = [];
  const tried = async (name, act) => { try { const r = await act(); got.push([name, r]); } catch (e) { got.push([name, "refused"]); } };
  const after = (element, source) => new Promise((done) => { element.onload = () => done("loaded"); element.onerror = () => done("refused"); element.src = source; document.body.append(element); setTimeout(() => done("silent"), 1500); });
  await tried("fetch", async () => (await fetch(target + "state", {credentials: "include"})).text());
  await tried("fetch no-cors", async () => (await fetch(target + "state", {mode: "no-cors", credentials: "include"})).text());
  await tried("post text", async () => (await fetch(target + "note", {method: "POST", mode: "no-cors", credentials: "include", headers: {"Content-Type": "text/plain"}, body: note})).text());
  await tried("post json", async () => (await fetch(target + "note", {method: "POST", credentials: "include", headers: {"Content-Type": "application/json"}, body: note})).text());
  await tried("beacon", async () => { navigator.sendBeacon(target + "note", new Blob([note], {type: "text/plain"})); return ""; });
  await tried("script", () => after(document.createElement("script"), target + "state"));
  await tried("image", () => after(document.createElement("img"), target + "state"));
  await tried("stream", () => new Promise((done, fail) => { const s = new EventSource(target + "stream", {withCredentials: true}); s.onmessage = s.onopen = () => done("opened"); s.onerror = fail; }));
  await tried("socket", () => new Promise((done, fail) => { const s = new WebSocket(target.replace("http", "ws") + "stream"); s.onopen = () => done("opened"); s.onerror = fail; }));
  await tried("frame", async () => { const f = document.createElement("iframe"); await after(f, target); return f.contentDocument ? f.contentDocument.body.textContent : ""; });
  await tried("form", async () => { const f = document.createElement("form"); const i = document.createElement("iframe"); i.name = "into"; document.body.append(i); f.target = "into"; f.method = "POST"; f.enctype = "text/plain"; f.action = target + "note"; const x = document.createElement("input"); x.name = note; f.append(x); document.body.append(f); f.submit(); await new Promise((d) => setTimeout(d, 500)); return ""; });
  await tried("window", async () => { const w = window.open(target); await new Promise((d) => setTimeout(d, 500)); const t = w ? w.document.body.textContent : ""; if (w) w.close(); return t; });
  return got;
}

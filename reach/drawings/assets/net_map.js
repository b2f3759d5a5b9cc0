"use strict";
/* Draws a net on a Leaflet map from plain data. All text is set as text, never as markup; the only markup used
   is the symbol drawings made by the program itself. */
function drawNet(map, pictures, data) {
  const box = data.bounds;
  map.attributionControl.setPrefix(false);
  L.control.scale({ maxWidth: 160, imperial: true }).addTo(map);

  const layers = Object.assign({}, pictures);
  const renderers = { links: L.svg({ pane: "links", padding: 0.6 }), plan: L.svg({ pane: "plan", padding: 0.6 }) };

  function node(tag, text, kind) {
    const made = document.createElement(tag);
    made.textContent = text;
    if (kind) made.className = kind;
    return made;
  }

  function card(title, lines) {
    const made = document.createElement("div");
    made.appendChild(node("h3", title));
    for (const line of lines) {
      const quiet = line.startsWith("\u00a0");
      made.appendChild(node("p", quiet ? line.slice(1) : line, quiet ? "quiet" : ""));
    }
    return made;
  }

  /* a box is never wider or higher than the map leaves room for */
  function room(most) {
    const size = map.getSize();
    return {
      maxWidth: Math.min(most, Math.max(size.x - 96, 160)), maxHeight: Math.max(size.y - 130, 80),
      autoPanPaddingTopLeft: [46, 12],
    };
  }

  function fit() {
    map.fitBounds(box, { padding: [34, 34], animate: false });
  }
  fit();

  /* links */
  let drawn = [];
  let chosen = null;
  let onlyChosen = data.focus.only;
  for (const key of Object.keys(data.styles)) layers[key] = L.layerGroup();
  let shownLinks = [];
  function drawLinks(links) {
    for (const key of Object.keys(data.styles)) layers[key].clearLayers();
    shownLinks = links;
    drawn = links.map(function (link) { return { a: link.a, b: link.b, link: link, lines: null }; });
  }

  /* a line is made when it is first to be seen: of a big net's many thousands few ever are */
  function makeLines(entry) {
    const link = entry.link;
    const style = data.styles[link.k];
    const from = data.stations[link.a];
    const to = data.stations[link.b];
    const ends = [[from.lat, from.lon], [to.lat, to.lon]];
    const pane = style.pane;
    const shared = { pane: pane, renderer: renderers[pane], interactive: false };
    const group = layers[link.k];
    const lines = [];
    if (data.rims && drawn.length < 500) {
      /* over coverage of the same hue a light rim keeps the line apart */
      const rim = L.polyline(ends, Object.assign({}, shared, {
        color: data.paper, weight: style.weight + 2.4, opacity: 0.75, className: "link rim", lineCap: "butt",
      }));
      group.addLayer(rim);
      lines.push(rim);
    }
    const line = L.polyline(ends, Object.assign({}, shared, {
      color: style.color, weight: style.weight, dashArray: style.dash, opacity: style.opacity,
      className: "link", lineCap: "butt",
    }));
    if (style.arrow) {
      line.on("add", function () { line.getElement().setAttribute("marker-end", "url(#arrow-" + link.k + ")"); });
    }
    group.addLayer(line);
    lines.push(line);
    if (style.cased) {
      const core = L.polyline(ends, Object.assign({}, shared, {
        color: data.paper, weight: style.weight / 2.4, opacity: 1, className: "link", lineCap: "butt",
      }));
      group.addLayer(core);
      lines.push(core);
    }
    entry.lines = lines;
  }
  drawLinks(data.cases.length ? data.cases[0].links : data.links);

  /* the station whose links stand out: the chosen one, else the one the plan is built around */
  function isFar(entry) {
    const focus = chosen !== null ? chosen : onlyChosen ? data.focus.start : null;
    if (focus === null) return onlyChosen && !data.styles[entry.link.k].plan;
    if (chosen === null && data.styles[entry.link.k].plan) return false;
    return entry.a !== focus && entry.b !== focus;
  }

  /* a click near a line opens its card; lines lie under the stations, which take their own clicks */
  function nearest(point) {
    const spots = data.stations.map(function (s) { return map.latLngToContainerPoint([s.lat, s.lon]); });
    let best = null, reach = 8;
    for (const entry of drawn) {
      if (!map.hasLayer(layers[entry.link.k]) || isFar(entry)) continue;
      const far = L.LineUtil.pointToSegmentDistance(point, spots[entry.a], spots[entry.b]);
      if (far <= reach) { best = entry.link; reach = far; }
    }
    return best;
  }

  function linkCard(link) {
    const from = data.stations[link.a], to = data.stations[link.b];
    const made = card(from.call + " and " + to.call, [
      to.call + " hears " + from.call + ": " + data.qualities[link.f],
      from.call + " hears " + to.call + ": " + data.qualities[link.r],
      "\u00a0" + link.t,
    ]);
    if (link.p) made.appendChild(profile(link.p, from.call, to.call));
    return made;
  }

  /* the ground under a line, its sight line and the six tenths of the first Fresnel zone that should be clear */
  function profile(path, left, right) {
    const wide = 300, high = 118, top = 8, foot = 22, count = path.g.length - 1;
    const zone = [], wavelength = path.w || data.wavelength_m;
    for (let i = 0; i <= count; i += 1) {
      const d1 = path.km * 1000 * i / count, d2 = path.km * 1000 - d1;
      const line = path.a + (path.b - path.a) * i / count;
      const radius = wavelength ? 0.6 * Math.sqrt(wavelength * d1 * d2 / (path.km * 1000)) : 0;
      zone.push([line, line - radius]);
    }
    const lowest = Math.min.apply(null, path.g.concat(zone.map(function (z) { return z[1]; })));
    const highest = Math.max.apply(null, path.g.concat([path.a, path.b]));
    const tall = Math.max(highest - lowest, 20);
    function x(i) { return (wide * i / count).toFixed(1); }
    function y(metres) { return (top + (high - top - foot) * (1 - (metres - lowest) / tall)).toFixed(1); }
    const box = svgNode("svg", { viewBox: "0 0 " + wide + " " + high, width: "100%", role: "img", class: "profile" });
    box.setAttribute("aria-label", "Profile of the path from " + left + " to " + right);
    const ground = path.g.map(function (g, i) { return x(i) + "," + y(g); }).join(" ");
    const clear = zone.map(function (z, i) { return x(i) + "," + y(z[0]); }).concat(
      zone.map(function (z, i) { return x(i) + "," + y(z[1]); }).reverse()).join(" ");
    box.appendChild(svgNode("polygon", { points: clear, class: "zone" }));
    box.appendChild(svgNode("polygon", { points: "0," + (high - foot) + " " + ground + " " + wide + "," + (high - foot), class: "ground" }));
    box.appendChild(svgNode("line", { x1: 0, y1: y(path.a), x2: wide, y2: y(path.b), class: "sight" }));
    box.appendChild(svgNode("line", { x1: 1, y1: y(path.g[0]), x2: 1, y2: y(path.a), class: "mast" }));
    box.appendChild(svgNode("line", { x1: wide - 1, y1: y(path.g[count]), x2: wide - 1, y2: y(path.b), class: "mast" }));
    const middle = path.km.toFixed(1) + " km, " + Math.round(lowest) + " to " + Math.round(highest) + " m";
    [[0, "start", left], [wide / 2, "middle", middle], [wide, "end", right]].forEach(function (entry) {
      const label = svgNode("text", { x: entry[0], y: high - 6, "text-anchor": entry[1] });
      label.textContent = entry[2];
      box.appendChild(label);
    });
    return box;
  }

  map.on("click", function (event) {
    const link = nearest(event.containerPoint);
    if (link) L.popup(room(380)).setLatLng(event.latlng).setContent(linkCard(link)).openOn(map);
  });
  map.on("mousemove", function (event) {
    map.getContainer().classList.toggle("over-link", nearest(event.containerPoint) !== null);
  });

  /* stations */
  const buttons = [];
  function iconOf(station) {
    const half = data.symbol_size / 2;
    return L.divIcon({
      html: data.symbols[station.symbol], className: "symbol", iconSize: [data.symbol_size, data.symbol_size],
      iconAnchor: [half, half],
    });
  }

  function describe(marker, station) {
    const element = marker.getElement();
    element.setAttribute("aria-label", station.title);
    element.setAttribute("role", "button");
  }

  const markers = data.stations.map(function (station, index) {
    const marker = L.marker([station.lat, station.lon], { icon: iconOf(station), zIndexOffset: station.rank * 1000, riseOnHover: true, autoPanOnFocus: false });
    marker.bindPopup(function () { return card(data.stations[index].title, data.stations[index].lines); }, Object.assign(room(360), { offset: [0, -6] }));
    marker.on("popupopen", function () { choose(index); });
    marker.on("popupclose", function () { choose(null); });
    marker.addTo(map);
    describe(marker, station);
    /* a station come to by key is brought into sight; by mouse it is there, and the map must not slip from under the click */
    marker.getElement().addEventListener("focus", function (event) {
      if (event.target.matches(":focus-visible")) map.panInside(marker.getLatLng(), { padding: [40, 40] });
    });
    return marker;
  });

  /* the map library hears Escape only while the map itself has the focus, not a station on it or the box */
  map.getContainer().addEventListener("keydown", function (event) {
    if (event.key === "Escape") map.closePopup();
  });

  function choose(index) {
    chosen = index;
    markers.forEach(function (marker, i) {
      marker.getElement().classList.toggle("chosen", i === index);
      if (buttons[i]) buttons[i].setAttribute("aria-pressed", String(i === index));
    });
    shade();
  }

  function shade() {
    for (const link of drawn) {
      const far = isFar(link);
      if (link.lines === null) {
        if (far && onlyChosen) continue;
        makeLines(link);
      }
      for (const line of link.lines) {
        const element = line.getElement();
        if (!element) continue;
        element.classList.toggle("faded", far && !onlyChosen);
        element.classList.toggle("hidden", far && onlyChosen);
        element.classList.toggle("alone", !far && !data.styles[link.link.k].plan && (onlyChosen || chosen !== null));
      }
    }
  }

  /* call signs, placed where there is room; the more important station chooses first */
  const names = data.stations.map(function (station) {
    const label = node("div", station.call, station.attention ? "call attention" : "call");
    map.getPane("names").appendChild(label);
    return label;
  });
  let order = [];
  function rankNames() {
    order = data.stations.map(function (_, i) { return i; });
    order.sort(function (a, b) { return data.stations[b].rank - data.stations[a].rank || a - b; });
  }
  rankNames();
  const places = [[1, 0], [-1, 0], [0, -1], [0, 1], [0.9, -0.8], [0.9, 0.8], [-0.9, -0.8], [-0.9, 0.8]];

  /* a name's size is the same at every zoom: all are measured at once, so that the page is laid out once */
  let sizes = null;
  function nameSizes() {
    if (sizes === null) {
      for (const label of names) label.style.display = "block";
      sizes = names.map(function (label) { return [label.offsetWidth, label.offsetHeight]; });
    }
    return sizes;
  }

  /* boxes by the squares they touch, so that a name is held against its neighbours only */
  const SQUARE = 64;
  function boxesByPlace() {
    const squares = new Map(), boxes = [], asked = [];
    let turn = 0;
    function each(box, act) {
      for (let x = Math.floor(box[0] / SQUARE); x <= Math.floor(box[2] / SQUARE); x++)
        for (let y = Math.floor(box[1] / SQUARE); y <= Math.floor(box[3] / SQUARE); y++) act(x * 1000003 + y);
    }
    return {
      add: function (box) {
        const number = boxes.push(box) - 1;
        each(box, function (key) {
          if (!squares.has(key)) squares.set(key, []);
          squares.get(key).push(number);
        });
      },
      over: function (spot) {
        const found = [];
        turn += 1;
        each(spot, function (key) {
          for (const number of squares.get(key) || []) {
            const box = boxes[number];
            if (asked[number] === turn || spot[0] >= box[2] || spot[2] <= box[0] || spot[1] >= box[3] || spot[3] <= box[1]) continue;
            asked[number] = turn;
            found.push(box);
          }
        });
        return found;
      },
    };
  }

  function placeNames() {
    const shownNames = layers.names_on !== false;
    if (!shownNames) { for (const label of names) label.style.display = "none"; return; }
    const size = nameSizes(), spots = new Array(names.length).fill(null);
    const points = data.stations.map(function (s) { return map.latLngToLayerPoint([s.lat, s.lon]); });
    const corner = map.containerPointToLayerPoint([0, 0]);
    const view = [corner.x + 3, corner.y + 3, corner.x + map.getSize().x - 3, corner.y + map.getSize().y - 3];
    const taken = boxesByPlace(), heads = boxesByPlace();
    points.forEach(function (p, i) {
      const r = data.stations[i].rank > 0 ? 14 : 10;
      taken.add([p.x - r, p.y - r, p.x + r, p.y + r, i]);
    });
    /* a name keeps off the arrow heads now in sight where it can */
    for (const entry of drawn) {
      if (!data.styles[entry.link.k].arrow || !map.hasLayer(layers[entry.link.k]) || isFar(entry)) continue;
      const tip = points[entry.b], away = points[entry.a].subtract(tip);
      const length = Math.max(away.distanceTo([0, 0]), 1);
      const spot = tip.add(away.multiplyBy(Math.min(16 / length, 1)));
      heads.add([spot.x - 7, spot.y - 7, spot.x + 7, spot.y + 7]);
    }
    for (const i of order) {
      const [w, h] = size[i], p = points[i];
      const gap = data.stations[i].rank > 0 ? 16 : 12;
      let best = null, least = Infinity;
      for (const [dx, dy] of places) {
        const cx = p.x + dx * (gap + w / 2), cy = p.y + dy * (gap + h / 2 - 2);
        const spot = [cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2];
        let cost = 0;
        for (const t of taken.over(spot)) {
          if (t[4] === i) continue;
          /* the stations a plan is built on, and those in trouble, may lie over a plain dot but not over a name */
          cost += t[4] >= 0 && data.stations[i].rank > data.stations[t[4]].rank ? 1 : 1000;
        }
        cost += 5 * heads.over(spot).length;
        const cut = spot[0] < view[0] || spot[1] < view[1] || spot[2] > view[2] || spot[3] > view[3];
        if (cut) cost += 100;
        if (cost < 1000 && cost < least) { best = spot; least = cost; }
        if (cost === 0) break;
      }
      if (best === null) continue;
      taken.add([best[0] - 2, best[1] - 1, best[2] + 2, best[3] + 1, -1]);
      spots[i] = L.point(Math.round(best[0]), Math.round(best[1]));
    }
    names.forEach(function (label, i) {
      label.style.display = spots[i] ? "block" : "none";
      if (spots[i]) L.DomUtil.setPosition(label, spots[i]);
    });
  }
  const namePane = map.getPane("names");
  map.on("zoomstart", function () { namePane.style.visibility = "hidden"; });
  map.on("moveend viewreset", function () { placeNames(); namePane.style.visibility = "visible"; });

  /* open arrow heads for lines that work one way: they stop short of the listener's dot */
  function svgNode(tag, attributes) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    return made;
  }
  for (const renderer of Object.values(renderers)) renderer.addTo(map);
  const heads = svgNode("defs", {});
  for (const [key, style] of Object.entries(data.styles)) {
    if (!style.arrow) continue;
    const head = svgNode("marker", {
      id: "arrow-" + key, viewBox: "0 0 12 12", refX: "23", refY: "6", markerWidth: "13", markerHeight: "13",
      orient: "auto", markerUnits: "userSpaceOnUse",
    });
    head.appendChild(svgNode("path", { d: "M1 1 L11 6 L1 11", fill: "none", stroke: style.color, "stroke-width": "2" }));
    heads.appendChild(head);
  }
  const linkDrawing = renderers.links._container;
  linkDrawing.insertBefore(heads, linkDrawing.firstChild);

  /* the legend's boxes switch the layers */
  function setLayer(key, on) {
    if (key === "names") { layers.names_on = on; placeNames(); return; }
    const layer = layers[key];
    if (!layer) return;
    if (on) map.addLayer(layer); else map.removeLayer(layer);
    shade();
    if (key === "online" && layers.relief) layers.relief.setOpacity(on ? 0.35 : 1);
  }
  document.querySelectorAll("input[data-layer]").forEach(function (input) {
    input.addEventListener("change", function () { setLayer(input.dataset.layer, input.checked); });
    setLayer(input.dataset.layer, input.checked);
  });
  const only = document.querySelector("input[data-only-chosen]");
  if (only) {
    only.checked = onlyChosen;
    only.addEventListener("change", function () {
      onlyChosen = only.checked;
      drawLinks(shownLinks); /* anew, so that the better lines lie on top again */
      shade();
    });
  }
  shade();
  document.querySelectorAll("button[data-station]").forEach(function (button) {
    const index = Number(button.dataset.station);
    buttons[index] = button;
    button.addEventListener("click", function () {
      map.panInside(markers[index].getLatLng(), { padding: [80, 80], animate: false });
      markers[index].openPopup();
      /* on a narrow screen the list lies below the map: bring the map, and the box in it, into sight */
      const shown = map.getContainer().getBoundingClientRect();
      if (shown.top < 0 || shown.bottom > window.innerHeight) map.getContainer().scrollIntoView({ block: "start" });
    });
  });
  placeNames();

  /* a case of the plan: the same stations in other parts, and the lines they go by */
  const caseButtons = document.querySelectorAll("button[data-case]");
  function showCase(number) {
    const shown = data.cases[number];
    map.closePopup();
    data.stations = shown.stations;
    drawLinks(shown.links);
    data.stations.forEach(function (station, i) {
      markers[i].setIcon(iconOf(station));
      markers[i].setZIndexOffset(station.rank * 1000);
      describe(markers[i], station);
      names[i].className = station.attention ? "call attention" : "call";
      if (!buttons[i]) return;
      const status = buttons[i].querySelector("span");
      status.textContent = shown.status[i];
      status.className = station.attention ? "attention" : "";
    });
    document.querySelector(".answer h1").textContent = shown.headline;
    document.querySelector(".answer .reasons").textContent = shown.reasons;
    document.querySelectorAll("[data-count]").forEach(function (count) {
      count.textContent = shown.links.filter(function (link) { return link.k === count.dataset.count; }).length;
    });
    caseButtons.forEach(function (button, i) { button.setAttribute("aria-pressed", String(i === number)); });
    rankNames();
    shade();
    placeNames();
  }
  caseButtons.forEach(function (button) {
    button.addEventListener("click", function () { showCase(Number(button.dataset.case)); });
  });

  /* on paper the map takes a fixed size and shows the whole net */
  const element = map.getContainer();
  let before = null;
  /* the window, or a list opened above the map, changes the map's size */
  new ResizeObserver(function () {
    map.invalidateSize({ animate: false, pan: false });
    for (const marker of markers) Object.assign(marker.getPopup().options, room(360));
    placeNames();
  }).observe(element);
  window.addEventListener("beforeprint", function () {
    before = { center: map.getCenter(), zoom: map.getZoom() };
    map.closePopup();
    element.style.position = "relative";
    element.style.width = data.print_size[0] + "px";
    element.style.height = data.print_size[1] + "px";
    map.invalidateSize({ animate: false, pan: false });
    fit();
  });
  window.addEventListener("afterprint", function () {
    element.style.position = element.style.width = element.style.height = "";
    map.invalidateSize({ animate: false, pan: false });
    if (before) map.setView(before.center, before.zoom, { animate: false });
  });
}

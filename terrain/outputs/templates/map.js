// Helpers and the layers that never change. Every text reaches the page as text, never as markup.
var rutwise = {};
(function (rw) {
  "use strict";

  const PANES = [["rw-contours", 405], ["rw-ground", 410], ["rw-edge", 415], ["rw-weak", 418],
    ["rw-casing", 420], ["rw-trail", 425], ["rw-hit", 430], ["rw-leader", 590], ["rw-here", 640]];

  const NEVER_HIDDEN = ["rw-water", "rw-help"];

  rw.element = function (tag, parent, text, className) {
    const made = document.createElement(tag);
    if (className) { made.className = className; }
    if (text !== undefined) { made.textContent = text; made.dir = "auto"; }
    if (parent) { parent.appendChild(made); }
    return made;
  };

  rw.byId = function (id) { return document.getElementById(id); };

  rw.figures = function (parent, title, rows) {
    if (title) { rw.element("h3", parent, title); }
    const body = rw.element("tbody", rw.element("table", parent));
    rows.forEach(function (row) {
      const line = rw.element("tr", body);
      rw.element("th", line, row[0]).scope = "row";
      rw.element("td", line, row[1]);
    });
  };

  function popup(item) {
    const box = rw.element("div", null, undefined, "rw-pop");
    rw.figures(box, item.n, item.r);
    return box;
  }

  // What the search finds beside trails and stretches: its names, and the layer with its figures.
  rw.things = [];

  function findable(item, group, layer, at) {
    rw.things.push({ id: item.id, name: item.n, also: item.also || "", group: group, layer: layer,
      at: at });
  }

  function withPopup(layer, item) {
    return layer.bindPopup(function () { return popup(item); }, { maxWidth: 270 });
  }

  // A sign or a name: a marker without size whose text stands where map_labels.js finds room.
  rw.mark = function (ats, className, text, options) {
    const holder = rw.element("div");
    rw.element("span", holder, text);
    const marker = L.marker(ats[0], {
      icon: L.divIcon({ html: holder, className: "rw-mark " + className, iconSize: [0, 0] }),
      interactive: Boolean(options.tap), keyboard: Boolean(options.tap),
      alt: options.alt || text, zIndexOffset: options.lift || 0
    });
    marker.rw = { ats: ats, kind: options.kind, order: options.order === undefined ? 9 : options.order,
      holder: holder };
    if (options.tap) {
      let name = options.alt || text;
      const tell = function () {
        const shown = holder.firstChild.textContent;
        if (marker.getElement()) {
          marker.getElement().setAttribute("aria-label",
            name.includes(shown) ? name : shown + ": " + name);
        }
      };
      marker.rw.say = function (words, longer) {
        holder.firstChild.textContent = words;
        name = longer;
        tell();
      };
      marker.on("add", tell);
    } else {
      marker.on("add", function () { marker.getElement().setAttribute("aria-hidden", "true"); });
    }
    return marker;
  };

  // A tap, or Enter or the space bar on a focused sign.
  rw.onPress = function (marker, work) {
    marker.on("click", work);
    marker.on("keypress", function (event) {
      if (event.originalEvent.key === "Enter" || event.originalEvent.key === " ") { work(); }
    });
  };

  rw.panes = function (map) {
    PANES.forEach(function (pane) { map.createPane(pane[0]).style.zIndex = pane[1]; });
    map.getPane("rw-leader").style.pointerEvents = "none";
    map.getPane("rw-here").style.pointerEvents = "none";
  };

  rw.contours = function (items) {
    const group = L.layerGroup();
    items.forEach(function (item) {
      L.polyline(item.lines, { pane: "rw-contours", color: "#6b4a1f", interactive: false,
        weight: item.heavy ? 1.5 : 0.8, opacity: item.heavy ? 0.85 : 0.6,
        className: "rw-contour" }).addTo(group);
      if (item.l) { rw.mark(item.ats, "rw-height", item.l, { kind: "height" }).addTo(group); }
    });
    return group;
  };

  rw.polygons = function (items) {
    const group = L.layerGroup();
    items.forEach(function (item) {
      const area = withPopup(L.geoJSON(item.g, { pane: "rw-ground", style: { color: "#5b4420",
        weight: 1.6, dashArray: "1 5", fillColor: item.fill, fillOpacity: 1,
        className: "rw-soil-area" } }), item).addTo(group);
      findable(item, group, area, item.ats[0]);
      rw.mark(item.ats, "rw-soil", item.l, { kind: "soil" }).addTo(group);
    });
    return group;
  };

  rw.areas = function (data) {
    const group = L.layerGroup();
    data.items.forEach(function (item) {
      const layer = L.geoJSON(item.g, { pane: "rw-edge", style: { color: data.colour,
        weight: data.weight, dashArray: data.dash || null, fillColor: data.colour,
        fillOpacity: data.fill, interactive: item.r.length > 0, className: data.look || "" } });
      if (item.r.length) { withPopup(layer, item); }
      layer.addTo(group);
    });
    return group;
  };

  rw.signs = function (items) {
    const group = L.layerGroup();
    items.forEach(function (item) {
      const sign = withPopup(rw.mark([item.at], "rw-sign " + item.k, item.l,
        { tap: true, lift: 400, alt: item.n, kind: "sign", order: NEVER_HIDDEN.includes(item.k) ? 0 : 9 }),
      item).addTo(group);
      findable(item, group, sign, item.at);
    });
    return group;
  };

  rw.outline = function (geometry) {
    return L.geoJSON(geometry, { pane: "rw-edge", interactive: false, style: { color: "#1d2430",
      weight: 2.5, dashArray: "14 5 3 5", fill: false, className: "rw-boundary" } });
  };

  rw.landings = function (items) {
    const group = L.layerGroup();
    items.forEach(function (item) {
      const sign = withPopup(rw.mark([item.at], "rw-landing", item.id,
        { tap: true, lift: 600, alt: item.n, kind: "fixed" }), item).addTo(group);
      findable(item, group, sign, item.at);
    });
    return group;
  };

  rw.arrows = function (items) {
    return L.layerGroup(items.map(function (item) {
      const marker = rw.mark([item.at], "rw-arrow", "", { kind: "arrow" });
      marker.rw.holder.firstChild.style.transform = "rotate(" + item.turn + "deg)";
      return marker;
    }));
  };
}(rutwise));

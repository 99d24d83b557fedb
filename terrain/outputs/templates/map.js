// Drawing helpers of the map. Every text reaches the page as text, never as markup.
var rutwise = (function () {
  "use strict";

  function element(tag, parent, text, className) {
    var made = document.createElement(tag);
    if (className) { made.className = className; }
    if (text !== undefined) { made.textContent = text; made.dir = "auto"; }
    if (parent) { parent.appendChild(made); }
    return made;
  }

  function popup(title, groups) {
    var box = element("div", null, undefined, "rw-pop");
    element("h3", box, title);
    groups.forEach(function (group) {
      if (group.title) { element("h4", box, group.title); }
      var body = element("tbody", element("table", box));
      group.rows.forEach(function (row) {
        var line = element("tr", body);
        element("th", line, row[0]).scope = "row";
        element("td", line, row[1]);
      });
    });
    return box;
  }

  function mark(at, className, text, options) {
    var holder = element("div");
    var span = element("span", holder, text);
    if (options && options.turn !== undefined) {
      span.style.transform = "rotate(" + options.turn + "deg)";
    }
    return L.marker(at, {
      icon: L.divIcon({ html: holder, className: className, iconSize: [0, 0] }),
      interactive: Boolean(options && options.tap),
      keyboard: Boolean(options && options.tap),
      alt: text,
      zIndexOffset: options && options.lift ? options.lift : 0
    });
  }

  function panes(map) {
    [["rw-ground", 410], ["rw-edge", 415], ["rw-casing", 420], ["rw-trail", 425], ["rw-hit", 430]]
      .forEach(function (pane) { map.createPane(pane[0]).style.zIndex = pane[1]; });
  }

  function trails(data) {
    var group = L.layerGroup();
    data.runs.forEach(function (run) {
      var style = data.classes[run.c];
      L.polyline(run.p, { pane: "rw-casing", color: "#ffffff", weight: style.width + 4,
        opacity: 0.95, interactive: false, lineCap: "butt" }).addTo(group);
      L.polyline(run.p, { pane: "rw-trail", color: style.colour, weight: style.width, opacity: 1,
        dashArray: style.dash || null, interactive: false, lineCap: "butt",
        className: "rw-run" }).addTo(group);
      var hit = L.polyline(run.p, { pane: "rw-hit", color: "#000000", weight: 26, opacity: 0,
        className: "rw-hit" });
      hit.bindPopup(function () {
        return popup(data.trailWord + " " + run.t, [
          { title: data.runTitle, rows: run.r },
          { title: data.trailTitle, rows: data.trails[run.t] }
        ]);
      }, { maxWidth: 290, minWidth: 200 });
      hit.addTo(group);
    });
    return group;
  }

  function polygons(data) {
    var group = L.layerGroup();
    data.items.forEach(function (item) {
      var layer = L.geoJSON(item.g, { pane: "rw-ground", style: { color: "#5b4420", weight: 1.6,
        dashArray: "1 5", fillColor: item.fill, fillOpacity: 1, className: "rw-soil-area" } });
      layer.bindPopup(function () { return popup(item.n, [{ rows: item.r }]); }, { maxWidth: 290 });
      group.addLayer(layer);
      group.addLayer(mark(item.at, "rw-label rw-soil", item.l));
    });
    return group;
  }

  function areas(data) {
    var group = L.layerGroup();
    data.items.forEach(function (item) {
      var layer = L.geoJSON(item.g, { pane: "rw-edge", style: { color: data.colour,
        weight: data.weight, dashArray: data.dash || null, fillColor: data.colour,
        fillOpacity: data.fill, interactive: item.r.length > 0 } });
      if (item.r.length) {
        layer.bindPopup(function () { return popup(item.n, [{ rows: item.r }]); },
          { maxWidth: 290 });
      }
      group.addLayer(layer);
    });
    return group;
  }

  function signs(data) {
    return L.layerGroup(data.map(function (item) {
      var marker = mark(item.at, "rw-sign " + item.k, item.l, { tap: true, lift: 400 });
      marker.options.alt = item.n;
      marker.bindPopup(function () { return popup(item.n, [{ rows: item.r }]); },
        { maxWidth: 290 });
      return marker;
    }));
  }

  function outline(data) {
    return L.geoJSON(data, { pane: "rw-edge", interactive: false, style: { color: "#1d2430",
      weight: 2.5, dashArray: "14 5 3 5", fill: false, className: "rw-boundary" } });
  }

  function landings(data) {
    return L.layerGroup(data.map(function (item) {
      var marker = mark(item.at, "rw-landing", "L", { tap: true, lift: 600 });
      marker.bindPopup(function () { return popup(item.n, [{ rows: item.r }]); }, { maxWidth: 290 });
      return marker;
    }));
  }

  function labels(data) {
    return L.layerGroup(data.map(function (item) {
      var marker = mark(item.at, "rw-label", item.l, { tap: true, lift: 300 });
      marker.bindPopup(function () { return popup(item.n, [{ rows: item.r }]); }, { maxWidth: 290 });
      return marker;
    }));
  }

  function arrows(data) {
    return L.layerGroup(data.map(function (item) {
      return mark(item.at, "rw-arrow", "", { turn: item.turn });
    }));
  }

  function settle(map, control, bounds, note) {
    var wide = window.matchMedia("(min-width: 900px)").matches;
    map.attributionControl.setPrefix("");
    map.attributionControl.addAttribution(note);
    if (wide) { control.expand(); }
    map.on("popupopen", function () { map.getContainer().classList.add("rw-open"); });
    map.on("popupclose", function () { map.getContainer().classList.remove("rw-open"); });
    document.querySelectorAll(".rw-panel details").forEach(function (part) { part.open = wide; });
    map.invalidateSize(false);
    map.options.zoomSnap = 0.25;
    map.fitBounds(bounds, { animate: false, paddingTopLeft: [wide ? 60 : 24, 30],
      paddingBottomRight: [wide ? 300 : 24, 70] });
    if (window.ResizeObserver) {
      new ResizeObserver(function () { map.invalidateSize(false); }).observe(map.getContainer());
    }
  }

  return { areas: areas, arrows: arrows, labels: labels, landings: landings, outline: outline, panes: panes,
    polygons: polygons, settle: settle, signs: signs, trails: trails };
}());

// The panel: setup, state, view, search, what is drawn, print; and what a tap on the map says.
(function (rw) {
  "use strict";

  function option(parent, value, text) {
    const made = rw.element("option", parent, text);
    made.value = value;
    return made;
  }

  function fillSelects(model) {
    const data = model.data, setups = rw.byId("rw-setup");
    [[true, "Usual practice"], [false, "Ask the manufacturer first"]].forEach(function (part) {
      const group = document.createElement("optgroup");
      group.label = part[1];
      data.setups.forEach(function (setup, k) {
        if (setup.usual === part[0]) { option(group, k, setup.words); }
      });
      if (group.children.length) { setups.appendChild(group); }
    });
    data.states.forEach(function (state) {
      option(rw.byId("rw-state"), state, state + (state === data.state ? " (the plan's)"
        : data.judged.includes(state) ? "" : " (not judged)"));
    });
    data.views.forEach(function (view, k) { option(rw.byId("rw-view"), k, view.title); });
  }

  function tellVerdict(model) {
    const data = model.data, choice = model.choice, setup = data.setups[choice.setup];
    const verdict = data.verdicts[choice.state][choice.setup], box = rw.byId("rw-verdict");
    box.textContent = "";
    rw.element("b", box, verdict[0] + " " + verdict[1]);
    rw.element("span", box, ": " + setup.words + ", ground " + choice.state + ". " + verdict[2] +
      (setup.usual ? "" : " " + setup.standing + "."));
    rw.byId("rw-own").hidden = model.own();
    rw.byId("rw-setup").value = choice.setup;
    rw.byId("rw-state").value = choice.state;
    rw.byId("rw-view").value = choice.view;
    rw.byId("rw-setup").querySelectorAll("option").forEach(function (item) {
      item.textContent = data.verdicts[choice.state][item.value][0] + " " +
        data.setups[item.value].words;
    });
    document.querySelectorAll("[data-view]").forEach(function (key) {
      key.hidden = key.dataset.view !== data.views[choice.view].key;
    });
  }

  function swapWetness(wet, state) {
    wet.group.clearLayers();
    if (wet.pictures[state]) { wet.group.addLayer(wet.pictures[state]); }
  }

  function layerList(map, layers, changed) {
    const list = rw.byId("rw-layers");
    layers.forEach(function (layer, k) {
      const row = rw.element("li", list), label = rw.element("label", row);
      const box = rw.element("input", label);
      box.type = "checkbox";
      box.id = "rw-layer-" + k;
      box.checked = layer.show;
      rw.element("span", label, layer.name);
      if (layer.show) { layer.layer.addTo(map); } else { layer.layer.remove(); }
      box.addEventListener("change", function () {
        if (box.checked) { layer.layer.addTo(map); } else { layer.layer.remove(); }
        changed();
      });
    });
  }

  // Easting and northing between the four nearest figures of the table; null outside of it.
  rw.gridAt = function (grid, lat, lon) {
    const n = grid.x.length - 1;
    const x = (lon - grid.west) / (grid.east - grid.west) * n;
    const y = (lat - grid.south) / (grid.north - grid.south) * n;
    if (!(x >= 0 && x <= n && y >= 0 && y <= n)) { return null; }
    const column = Math.min(Math.floor(x), n - 1), row = Math.min(Math.floor(y), n - 1);
    const u = x - column, v = y - row;
    const mixed = function (table) {
      return (1 - v) * ((1 - u) * table[row][column] + u * table[row][column + 1]) +
        v * ((1 - u) * table[row + 1][column] + u * table[row + 1][column + 1]);
    };
    return [mixed(grid.x), mixed(grid.y)];
  };

  function tellPlace(grid, latlng) {
    const at = rw.gridAt(grid, latlng.lat, latlng.lng);
    const degrees = Math.abs(latlng.lat).toFixed(5) + "\u00b0 " + (latlng.lat < 0 ? "S" : "N") +
      ", " + Math.abs(latlng.lng).toFixed(5) + "\u00b0 " + (latlng.lng < 0 ? "W" : "E");
    rw.byId("rw-readout").textContent = degrees + (at ? " \u00b7 E " + rw.numberWords(at[0], 0) +
      " m, N " + rw.numberWords(at[1], 0) + " m (" + grid.crs + ")" : " \u00b7 outside the grid table");
  }

  function trailTaps(map, model, strip, group) {
    model.data.trails.forEach(function (trail, number) {
      L.polyline(trail.p, { pane: "rw-hit", color: "#000000", weight: 26, opacity: 0,
        className: "rw-hit" }).on("click", function (event) {
        strip.show(number, rw.chainageNear(map, trail, event.latlng));
      }).addTo(group);
    });
  }

  function trailNames(map, model, strip, items, named) {
    const group = L.layerGroup();
    items.forEach(function (item) {
      const number = model.data.trails.findIndex(function (trail) { return trail.id === item.l; });
      const name = rw.mark(item.ats, "rw-label", item.l, { tap: number >= 0, lift: 300,
        alt: "Trail " + item.l, kind: "trail" });
      if (number >= 0) {
        rw.onPress(name, function () { rw.openTrail(map, model, strip, number); });
        named[item.l] = name;
      }
      name.addTo(group);
    });
    return group;
  }

  function northArrow(map, words) {
    const control = L.control({ position: "topright" });
    control.onAdd = function () {
      const box = rw.element("div", null, undefined, "rw-north");
      box.setAttribute("role", "img");
      box.setAttribute("aria-label", words);
      box.title = words;
      rw.element("span", box, "N");
      rw.element("i", box);
      return box;
    };
    control.addTo(map);
  }

  // While printing the page is laid out as sheets, with the whole block on the map.
  function printing(map, bounds, strip, place) {
    let before = null;
    const main = rw.byId("rw-main"), body = rw.byId("rw-body");
    window.addEventListener("beforeprint", function () {
      if (before) { return; }
      const parts = Array.from(document.querySelectorAll("details"));
      before = { centre: map.getCenter(), zoom: map.getZoom(),
        open: parts.map(function (part) { return part.open; }), parts: parts };
      parts.forEach(function (part) { part.open = !part.hasAttribute("data-screen"); });
      document.body.classList.add("rw-printing");
      body.insertBefore(main, body.querySelector("details"));
      map.invalidateSize(false);
      map.fitBounds(bounds, { animate: false, padding: [16, 16] });
      strip.refresh();
      place();
    });
    window.addEventListener("afterprint", function () {
      if (!before) { return; }
      document.body.classList.remove("rw-printing");
      document.body.appendChild(main);
      before.parts.forEach(function (part, k) { part.open = before.open[k]; });
      map.invalidateSize(false);
      map.setView(before.centre, before.zoom, { animate: false });
      before = null;
      strip.refresh();
      place();
    });
    rw.byId("rw-print").addEventListener("click", function () { window.print(); });
  }

  function frame(map, note) {
    const main = rw.byId("rw-main");
    main.insertBefore(map.getContainer(), main.firstChild);
    map.getContainer().setAttribute("role", "region");
    map.getContainer().setAttribute("aria-label", "Map of the block");
    map.attributionControl.setPrefix("");
    map.attributionControl.addAttribution(note);
    map.options.zoomSnap = 0.25;
  }

  rw.fold = function (small) {
    const button = rw.byId("rw-fold");
    document.body.classList.toggle("rw-folded", small);
    button.setAttribute("aria-expanded", String(!small));
    button.textContent = small ? "Show the panel" : "Larger map";
  };

  function soon(work) {
    let waiting = 0;
    return function () {
      cancelAnimationFrame(waiting);
      waiting = requestAnimationFrame(work);
    };
  }

  rw.start = function (map, parts, data) {
    const wide = window.matchMedia("(min-width: 900px)").matches;
    const model = rw.model(data), painted = L.layerGroup().addTo(map);
    const leaders = L.layerGroup().addTo(map), weak = L.layerGroup();
    data.map = map;
    frame(map, parts.note);
    const strip = rw.strip(map, model);
    const lines = data.trails.map(function (trail) { return { p: trail.p, weight: 8 }; })
      .concat(data.stretches.map(function (item) { return { p: item.p, weight: 40 }; }));
    const place = function () { rw.placeLabels(map, lines, leaders); }, placeSoon = soon(place);

    fillSelects(model);
    trailTaps(map, model, strip, L.layerGroup().addTo(map));
    const fade = rw.weakStretches(map, model, strip, weak), named = {};
    const names = trailNames(map, model, strip, parts.names, named);
    let layers = [{ name: "Weak stretches", layer: weak, show: true },
      { name: "Trail names", layer: names, show: true }].concat(parts.layers);
    const wet = { group: L.layerGroup(), pictures: parts.wetness };
    if (Object.keys(parts.wetness).length) {
      layers.push({ name: "Wet ground in the chosen state", layer: wet.group, show: true });
    }
    layers = layers.filter(function (item) { return item.layer !== weak || data.stretches.length; });
    layerList(map, layers, placeSoon);

    const show = function () {
      rw.paintTrails(model, painted);
      swapWetness(wet, model.choice.state);
      tellVerdict(model);
      rw.tellShut(model, named);
      fade();
      rw.tellShort(map, model, strip);
      strip.refresh();
      placeSoon();
    };
    const choose = function (name, read) {
      const select = rw.byId("rw-" + name);
      select.addEventListener("change", function () { model.choice[name] = read(select.value); show(); });
    };
    choose("setup", Number);
    choose("state", String);
    choose("view", Number);
    rw.byId("rw-own").addEventListener("click", function () {
      model.choice.setup = data.setup;
      model.choice.state = data.state;
      show();
    });
    rw.search(map, model, strip, layers);
    rw.byId("rw-fold").addEventListener("click", function () {
      rw.fold(!document.body.classList.contains("rw-folded"));
    });
    northArrow(map, parts.north);
    map.on("click", function (event) { tellPlace(data.grid, event.latlng); });
    rw.byId("rw-middle").addEventListener("click", function () {
      tellPlace(data.grid, map.getCenter());
    });
    map.on("zoomend moveend resize", placeSoon);
    printing(map, parts.bounds, strip, place);
    document.querySelectorAll("details[data-wide]").forEach(function (part) { part.open = wide; });
    show();
    map.invalidateSize(false);
    map.fitBounds(parts.bounds, { animate: false, padding: [26, 26] });
    if (window.ResizeObserver) {
      new ResizeObserver(soon(function () { map.invalidateSize(false); strip.refresh(); placeSoon(); }))
        .observe(map.getContainer());
    }
    place();
    rw.live = { map: map, model: model, strip: strip };
  };
}(rutwise));

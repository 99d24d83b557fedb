// The panel: setup, state, view, what is drawn, and what its lists lead to.
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
    const own = choice.setup === data.setup;
    if (data.ratings.words && model.judged()) {
      rw.element("span", box, " " + (own ? data.ratings.words
        : "Ratings on slopes: " + data.ratings.ownOnly + ".") + (own && !model.own()
        ? " Metres with bogies that pivot freely are those of " + data.state + " ground." : ""), "rw-rating");
    }
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

  // Places that do not change with the choice: ratings exceeded, slopes that rules name.
  function slopeLists(map, model, strip) {
    [["rating", model.data.ratings.items], ["steep", model.data.steep]].forEach(function (pair) {
      const list = rw.byId("rw-" + pair[0] + "-list");
      rw.byId("rw-" + pair[0] + "-part").hidden = !pair[1].length;
      pair[1].forEach(function (item) {
        const number = model.data.trails.findIndex(function (trail) { return trail.id === item.t; });
        rw.listed(list, item.words, function () {
          rw.openTrail(map, model, strip, number);
          strip.show(number, item.at);
        });
      });
    });
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
    slopeLists(map, model, strip);
    rw.byId("rw-fold").addEventListener("click", function () {
      rw.fold(!document.body.classList.contains("rw-folded"));
    });
    northArrow(map, parts.north);
    rw.tellTaps(map, data.grid);
    rw.byId("rw-middle").addEventListener("click", function () {
      rw.tellPlace(data.grid, map.getCenter(), "Middle of the map");
    });
    map.on("zoomend moveend resize", placeSoon);
    rw.printing(map, parts.bounds, strip, place);
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

// Finding things by name: trails, weak stretches, landings, crossings, soil areas and other signs.
(function (rw) {
  "use strict";

  rw.openTrail = function (map, model, strip, number) {
    const trail = model.data.trails[number], worst = rw.worstPlaces(model, number);
    const short = worst.least && worst.least.reserve < 0;
    const place = short ? worst.least : worst.steep || worst.least;
    strip.show(number, place ? place.at : trail.e[trail.e.length - 1] / 2);
    map.fitBounds(L.latLngBounds(trail.p).pad(0.15), { animate: false, maxZoom: 18 });
    if (!place) { return "nothing along it is known"; }
    return short ? rw.leastWords(place) : rw.steepWords(place);
  };

  // A thing whose layer is switched off is switched on first.
  function openThing(map, thing, layers, strip, grid) {
    if (!map.hasLayer(thing.group)) {
      const row = layers.findIndex(function (item) { return item.layer === thing.group; });
      const box = rw.byId("rw-layer-" + row);
      if (box) { box.click(); }
    }
    if (window.matchMedia("(max-width: 899px)").matches) {
      rw.fold(true);
      strip.close();
    }
    map.invalidateSize(false);
    if (thing.layer.getBounds) {
      map.fitBounds(thing.layer.getBounds().pad(0.1), { animate: false, maxZoom: 17 });
    } else {
      map.setView(thing.at, Math.max(map.getZoom(), 17), { animate: false });
    }
    thing.layer.openPopup(L.latLng(thing.at));
    rw.tellPlace(grid, L.latLng(thing.at), thing.name);
  }

  function option(parent, value) {
    const made = rw.element("option", parent);
    made.value = value;
  }

  function everything(map, model, strip, layers) {
    const trails = model.data.trails.map(function (trail, k) {
      return { id: trail.id, name: "Trail " + trail.id, told: trail.id, open: function () {
        return "at its " + rw.openTrail(map, model, strip, k);
      } };
    });
    const stretches = model.data.stretches.map(function (item) {
      return { id: item.id, name: "Weak stretch " + item.id, told: item.id, open: function () {
        rw.openStretch(map, model, strip, item);
        return item.kind;
      } };
    });
    const others = rw.things.map(function (thing) {
      return { id: thing.id, name: thing.name, also: thing.also, told: thing.name, open: function () {
        openThing(map, thing, layers, strip, model.data.grid);
        return "";
      } };
    });
    return trails.concat(stretches, others);
  }

  // Words in small letters without accents, whatever stands between them.
  function wordsOf(text) {
    return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase()
      .split(/[^\p{L}\p{N}]+/u).filter(Boolean);
  }

  // The closest kind of match that finds anything: the name itself, its beginning, a part of it,
  // then every wanted word somewhere in it, in any order.
  function found(things, text) {
    const words = wordsOf(text), wanted = words.join(" ");
    const told = things.map(function (thing) {
      const names = [thing.id, thing.name].map(function (name) { return wordsOf(name).join(" "); });
      return { thing: thing, names: names, all: names.concat(wordsOf(thing.also || "")).join(" ") };
    });
    const any = function (test) {
      return function (item) { return item.names.some(test); };
    };
    const tests = [
      any(function (name) { return name === wanted; }),
      any(function (name) { return name.startsWith(wanted); }),
      any(function (name) { return name.includes(wanted); }),
      function (item) { return words.every(function (word) { return item.all.includes(word); }); },
      function (item) { return item.all.replace(/ /g, "").includes(words.join("")); }
    ];
    for (let k = 0; k < tests.length && wanted; k += 1) {
      const some = told.filter(tests[k]);
      if (some.length) { return some.map(function (item) { return item.thing; }); }
    }
    // signs without letters or figures: as they were typed
    const bare = text.trim();
    return wanted || !bare ? [] : things.filter(function (thing) {
      return thing.name.includes(bare);
    });
  }

  rw.search = function (map, model, strip, layers) {
    const form = rw.byId("rw-find"), input = rw.byId("rw-find-text"), said = rw.byId("rw-found");
    const things = everything(map, model, strip, layers);
    things.forEach(function (thing) { option(rw.byId("rw-names"), thing.told); });
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      const some = found(things, input.value);
      if (!some.length) {
        said.textContent = "Nothing on this map is called that.";
        return;
      }
      const told = some[0].open(), more = some.slice(1, 4).map(function (thing) { return thing.name; });
      said.textContent = "Shown: " + some[0].told + (told ? ", " + told : "") + "." +
        (more.length ? " Also found: " + more.join(", ") + (some.length > 4 ? " and more." : ".") : "");
    });
  };
}(rutwise));

// The profile strip of one trail: elevation, grade and reserve, tied to a marker on the map.
(function (rw) {
  "use strict";

  const SPACE = document.querySelector("svg").namespaceURI;
  const LEFT = 62, RIGHT = 8;
  const BANDS = [{ name: "elevation", top: 4, height: 34, title: "Height" },
    { name: "grade", top: 46, height: 30, title: "Grade" },
    { name: "reserve", top: 84, height: 34, title: "Reserve" }];
  const HEIGHT = 122;

  function shape(tag, parent, look, text) {
    const made = document.createElementNS(SPACE, tag);
    Object.keys(look).forEach(function (key) { made.setAttribute(key, look[key]); });
    if (text !== undefined) { made.textContent = text; }
    parent.appendChild(made);
    return made;
  }

  function values(model, number, name) {
    return model.data.trails[number].e.map(function (end, k) {
      return model.value(name, model.starts[number] + k);
    });
  }

  function span(list, withZero) {
    const known = list.filter(isFinite).concat(withZero ? [0] : []);
    if (!known.length) { return [0, 1]; }
    const low = Math.min.apply(null, known), high = Math.max.apply(null, known);
    return high - low > 1e-6 ? [low, high] : [low - 0.5, high + 0.5];
  }

  function bandLabels(svg, band, low, high) {
    const middle = band.top + band.height / 2;
    shape("text", svg, { x: 2, y: middle + 4, class: "rw-band" }, band.title);
    shape("text", svg, { x: LEFT - 3, y: band.top + 8, class: "rw-axis" }, high);
    shape("text", svg, { x: LEFT - 3, y: band.top + band.height, class: "rw-axis" }, low);
  }

  function drawBand(svg, strip, band) {
    const list = values(strip.model, strip.number, band.name);
    const range = span(list, band.name !== "elevation");
    const ends = strip.trail.e;
    const y = function (v) {
      return band.top + band.height * (1 - (v - range[0]) / (range[1] - range[0]));
    };
    const base = band.name === "elevation" ? band.top + band.height : y(0);
    list.forEach(function (value, k) {
      const x0 = strip.x(k ? ends[k - 1] : 0), x1 = strip.x(ends[k]);
      if (!isFinite(value)) {
        shape("rect", svg, { x: x0, y: band.top, width: x1 - x0, height: band.height,
          class: "rw-gap" });
        return;
      }
      const low = band.name === "reserve" && value < 0;
      shape("rect", svg, { x: x0, y: Math.min(base, y(value)), width: x1 - x0 + 0.4,
        height: Math.max(Math.abs(base - y(value)), 0.8),
        class: "rw-bar-" + band.name + (low ? " rw-bar-short" : "") });
    });
    shape("line", svg, { x1: LEFT, x2: strip.width - RIGHT, y1: base, y2: base, class: "rw-zero" });
    const words = band.name === "elevation" ? range.map(rw.lengthWords)
      : range.map(function (v) { return rw.numberWords(100 * v, 0) + " %"; });
    const judged = strip.model.judged() || band.name !== "reserve";
    bandLabels(svg, band, judged ? words[0] : "", judged ? words[1] : "");
    if (!judged) {
      shape("text", svg, { x: LEFT + 8, y: band.top + band.height / 2 + 4, class: "rw-band" },
        "not judged in this state");
    }
  }

  function draw(strip) {
    const svg = rw.byId("rw-profile");
    strip.width = Math.max(200, svg.parentNode.clientWidth);
    strip.length = strip.trail.e[strip.trail.e.length - 1];
    strip.x = function (m) { return LEFT + (strip.width - LEFT - RIGHT) * m / strip.length; };
    svg.textContent = "";
    svg.setAttribute("viewBox", "0 0 " + strip.width + " " + HEIGHT);
    svg.setAttribute("height", HEIGHT);
    BANDS.forEach(function (band) { drawBand(svg, strip, band); });
    strip.cursor = shape("line", svg, { y1: 0, y2: HEIGHT, class: "rw-cursor" });
  }

  function words(strip, station) {
    const model = strip.model, data = model.data, unknown = data.unknown;
    const value = function (name) { return model.value(name, station); };
    const grade = value("grade"), pressure = value("pressure"), ratio = value("ratio");
    const height = value("elevation"), passes = value("passes"), soil = model.code("soil", station);
    const way = grade > 0 ? " uphill, loaded" : grade < 0 ? " downhill, loaded" : "";
    const said = function (v, digits, unit, name) {
      return isFinite(v) ? rw.numberWords(v, digits) + model.beyond(name, station) + unit : unknown;
    };
    const press = rw.units.pressure;
    const judged = model.judged() ? [
      ["Reserve", rw.slopeWords(value("reserve"), unknown) +
        model.beyond("reserve", station)],
      ["Binds", data.causes[model.code("cause", station) - 1] || unknown],
      ["Pressure", said(pressure * press.factor, press.digits, " " + press.word, "pressure") + ", " +
        said(ratio, 2, " of the bearing capacity", "ratio")]
    ] : [["Reserve, pressure", "not judged in this state"]];
    const crane = data.fixed.crane === undefined || model.choice.setup !== data.setup ? [] : [
      ["Crane out", said(100 * value("crane"), 0, " % of the way to tipping; its chart decides",
        "crane")]
    ];
    return judged.concat([
      ["Grade", rw.slopeWords(Math.abs(grade), unknown) + way],
      ["Cross slope", rw.slopeWords(Math.abs(value("cross")), unknown)],
      ["Passes", said(passes, 0, "", "passes")],
      ["Height", isFinite(height) ? rw.lengthWords(height) : unknown],
      ["Soil", soil ? data.polygons[soil - 1] : unknown]
    ], crane);
  }

  function stretchAt(strip) {
    return strip.model.data.stretches.find(function (item) {
      return item.t === strip.trail.id && strip.chainage >= item.from && strip.chainage <= item.to;
    });
  }

  function tell(strip) {
    const station = strip.model.starts[strip.number] +
      strip.model.stationAt(strip.number, strip.chainage);
    const here = rw.byId("rw-strip-here"), place = "At " + rw.lengthWords(strip.chainage);
    here.textContent = "";
    rw.element("strong", here, place);
    words(strip, station).forEach(function (pair) {
      const part = rw.element("span", here, undefined, "rw-figure");
      rw.element("span", part, pair[0] + " ", "rw-soft");
      rw.element("b", part, pair[1]);
    });
    const slider = rw.byId("rw-slider");
    slider.value = strip.chainage;
    slider.setAttribute("aria-valuetext", place + ", reserve " + words(strip, station)[0][1]);
  }

  // Whose figures these are, whether the trail can be used, and its two worst places.
  function head(strip) {
    const model = strip.model, data = model.data, use = rw.useOf(model, strip.number);
    const worst = rw.worstPlaces(model, strip.number), box = rw.byId("rw-strip-worst");
    rw.byId("rw-strip-choice").textContent = (model.own() ? "(as planned) "
      : "(not the plan's own choice) ") + data.setups[model.choice.setup].words + ", ground " +
      model.choice.state;
    rw.byId("rw-strip-use").textContent = use ? use[1] : "";
    box.textContent = "";
    [[worst.steep, rw.steepWords], [worst.least, rw.leastWords]].forEach(function (pair) {
      if (!pair[0]) { return; }
      const words = pair[1](pair[0]);
      const button = rw.element("button", box, words[0].toUpperCase() + words.slice(1));
      button.type = "button";
      button.addEventListener("click", function () {
        strip.move(pair[0].at);
        tellPlace(strip);
      });
    });
  }

  // Coordinates of the marked place; not while a finger or pointer is still moving along.
  function tellPlace(strip) {
    rw.tellPlace(strip.model.data.grid, L.latLng(rw.pointAt(strip.trail, strip.chainage)),
      "Trail " + strip.trail.id + " at " + rw.lengthWords(strip.chainage));
  }

  function table(strip) {
    const box = rw.byId("rw-strip-table"), model = strip.model, stretch = stretchAt(strip);
    const sums = rw.trailSums(model, strip.number);
    box.textContent = "";
    if (stretch) {
      rw.figures(rw.element("div", box), "Weak stretch " + stretch.id + " (" +
        rw.ownWords(model) + ")", stretch.r);
    }
    const wet = strip.trail.wet[model.choice.state], use = rw.useOf(model, strip.number);
    const ratings = !model.data.ratings.words || !model.judged() ? [] : model.choice.setup === model.data.setup
      ? strip.trail.ratings : [["Ratings on slopes", model.data.ratings.ownOnly]];
    const load = !strip.trail.load ? [] : [["Load, with the way out", model.own() ? strip.trail.load
      : "told for the plan's own setup and ground only"]];
    rw.figures(rw.element("div", box), "The whole trail", strip.trail.rows.concat(
      strip.trail.steep, ratings, load, use ? [["Use", use[1]]] : [], !model.judged() ? [["Traction and pressure",
        "not judged in this state"]] : (wet ? [["Wet", wet]] : []).concat([
        ["Short of traction", rw.lengthWords(sums.short)],
        ["Over the bearing capacity", rw.lengthWords(sums.over)],
        ["Not assessed", rw.lengthWords(sums.unknown)],
        ["Smallest reserve", rw.slopeWords(sums.least, model.data.unknown) +
          (sums.least < -1.02 ? " or less" : "")]])));
  }

  rw.strip = function (map, model) {
    const strip = { model: model, open: false };
    const marker = L.circleMarker([0, 0], { pane: "rw-here", radius: 9, color: "#1d2430", weight: 3,
      fillColor: "#ffffff", fillOpacity: 0.9, interactive: false, className: "rw-here-mark" });
    const glow = L.polyline([], { pane: "rw-weak", color: "#1d2430", weight: 20, opacity: 0.28,
      interactive: false, lineCap: "round" });

    strip.move = function (chainage) {
      strip.chainage = Math.min(Math.max(chainage, 0), strip.length);
      marker.setLatLng(rw.pointAt(strip.trail, strip.chainage)).addTo(map);
      const x = strip.x(strip.chainage);
      strip.cursor.setAttribute("x1", x);
      strip.cursor.setAttribute("x2", x);
      tell(strip);
      const stretch = stretchAt(strip);
      rw.byId("rw-strip-stretch").textContent = stretch
        ? stretch.id + ": " + stretch.kind + (model.own() ? "" : " (" + rw.ownWords(model) + ")") : "";
      if (stretch !== strip.stretch) { strip.stretch = stretch; table(strip); }
      // the words decide how much room the strip leaves for the map
      map.invalidateSize(false);
      map.panInside(marker.getLatLng(), { padding: [34, 34], animate: false });
    };

    strip.show = function (number, chainage) {
      if (window.matchMedia("(max-width: 899px)").matches) { rw.fold(true); }
      strip.number = number;
      strip.trail = model.data.trails[number];
      strip.open = true;
      strip.stretch = undefined;
      map.closePopup();
      document.body.classList.add("rw-with-strip");
      rw.byId("rw-strip").hidden = false;
      rw.byId("rw-strip-name").textContent = "Trail " + strip.trail.id;
      rw.byId("rw-strip-flow").textContent = { "1": "load travels \u2192", "-1": "load travels \u2190",
        "0": "" }[strip.trail.flow];
      draw(strip);
      head(strip);
      rw.byId("rw-slider").max = strip.length;
      glow.setLatLngs(strip.trail.p).addTo(map);
      table(strip);
      strip.move(chainage);
      tellPlace(strip);
    };

    strip.refresh = function () {
      if (strip.open) { draw(strip); head(strip); table(strip); strip.move(strip.chainage); }
    };

    strip.close = function () {
      strip.open = false;
      document.body.classList.remove("rw-with-strip");
      rw.byId("rw-strip").hidden = true;
      marker.remove();
      glow.remove();
      map.invalidateSize(false);
    };

    listen(strip);
    return strip;
  };

  function listen(strip) {
    const svg = rw.byId("rw-profile"), slider = rw.byId("rw-slider"), all = rw.byId("rw-strip-all");
    const follow = function (event) {
      const box = svg.getBoundingClientRect();
      strip.move((event.clientX - box.left - LEFT) / (box.width - LEFT - RIGHT) * strip.length);
    };
    svg.addEventListener("pointermove", follow);
    svg.addEventListener("pointerdown", function (event) { follow(event); tellPlace(strip); });
    slider.addEventListener("change", function () { tellPlace(strip); });
    slider.addEventListener("input", function () { strip.move(Number(slider.value)); });
    rw.byId("rw-strip-close").addEventListener("click", strip.close);
    all.addEventListener("click", function () {
      const box = rw.byId("rw-strip-table");
      box.hidden = !box.hidden;
      rw.byId("rw-strip").classList.toggle("rw-all", !box.hidden);
      all.setAttribute("aria-expanded", String(!box.hidden));
      strip.model.data.map.invalidateSize(false);
    });
  }
}(rutwise));

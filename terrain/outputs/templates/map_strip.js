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
    const words = band.name === "elevation"
      ? range.map(function (v) { return rw.numberWords(v, 0) + " m"; })
      : range.map(function (v) { return rw.numberWords(100 * v, 0) + " %"; });
    bandLabels(svg, band, words[0], words[1]);
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
    return [
      ["Reserve", rw.slopeWords(value("reserve"), unknown) +
        model.beyond("reserve", station)],
      ["Binds", data.causes[model.code("cause", station) - 1] || unknown],
      ["Grade", rw.slopeWords(Math.abs(grade), unknown) + way],
      ["Cross slope", rw.slopeWords(Math.abs(value("cross")), unknown)],
      ["Pressure", said(pressure, 0, " kPa", "pressure") + ", " +
        said(ratio, 2, " of the bearing capacity", "ratio")],
      ["Passes", said(passes, 0, "", "passes")],
      ["Height", said(height, 0, " m", "elevation")],
      ["Soil", soil ? data.polygons[soil - 1] : unknown]
    ];
  }

  function stretchAt(strip) {
    return strip.model.data.stretches.find(function (item) {
      return item.t === strip.trail.id && strip.chainage >= item.from && strip.chainage <= item.to;
    });
  }

  function tell(strip) {
    const station = strip.model.starts[strip.number] +
      strip.model.stationAt(strip.number, strip.chainage);
    const here = rw.byId("rw-strip-here"), place = "At " + rw.numberWords(strip.chainage, 0) + " m";
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

  function table(strip) {
    const box = rw.byId("rw-strip-table"), model = strip.model, stretch = stretchAt(strip);
    const sums = rw.trailSums(model, strip.number);
    box.textContent = "";
    if (stretch) {
      rw.figures(rw.element("div", box), "Weak stretch " + stretch.id +
        " (as the plan shows it)", stretch.r);
    }
    const wet = strip.trail.wet[model.choice.state];
    rw.figures(rw.element("div", box), "The whole trail", strip.trail.rows.concat(
      wet ? [["Wet", wet]] : [], [
        ["Short of traction", rw.metreWords(sums.short)],
        ["Over the bearing capacity", rw.metreWords(sums.over)],
        ["Not assessed", rw.metreWords(sums.unknown)],
        ["Smallest reserve", rw.slopeWords(sums.least, model.data.unknown) +
          (sums.least < -1.02 ? " or less" : "")]]));
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
      map.panInside(marker.getLatLng(), { padding: [34, 34], animate: false });
      const x = strip.x(strip.chainage);
      strip.cursor.setAttribute("x1", x);
      strip.cursor.setAttribute("x2", x);
      tell(strip);
      const stretch = stretchAt(strip);
      rw.byId("rw-strip-stretch").textContent = stretch ? stretch.id + ": " + stretch.kind : "";
      if (stretch !== strip.stretch) { strip.stretch = stretch; table(strip); }
    };

    strip.show = function (number, chainage) {
      if (window.matchMedia("(max-width: 899px)").matches) { rw.fold(true); }
      strip.number = number;
      strip.trail = model.data.trails[number];
      strip.open = true;
      strip.stretch = undefined;
      rw.byId("rw-strip").hidden = false;
      map.invalidateSize(false);
      rw.byId("rw-strip-name").textContent = "Trail " + strip.trail.id;
      rw.byId("rw-strip-flow").textContent = { "1": "load travels \u2192", "-1": "load travels \u2190",
        "0": "" }[strip.trail.flow];
      draw(strip);
      rw.byId("rw-slider").max = strip.length;
      glow.setLatLngs(strip.trail.p).addTo(map);
      table(strip);
      strip.move(chainage);
    };

    strip.refresh = function () {
      if (strip.open) { draw(strip); table(strip); strip.move(strip.chainage); }
    };

    strip.close = function () {
      strip.open = false;
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
    svg.addEventListener("pointerdown", follow);
    slider.addEventListener("input", function () { strip.move(Number(slider.value)); });
    rw.byId("rw-strip-close").addEventListener("click", strip.close);
    all.addEventListener("click", function () {
      const box = rw.byId("rw-strip-table");
      box.hidden = !box.hidden;
      all.setAttribute("aria-expanded", String(!box.hidden));
      strip.model.data.map.invalidateSize(false);
    });
  }
}(rutwise));

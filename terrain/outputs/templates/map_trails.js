// Figures along the trails, and the trails themselves, coloured for the chosen setup and state.
(function (rw) {
  "use strict";

  const LAST = 4095;

  function grouped(text) {
    const parts = text.split(".");
    parts[0] = parts[0].replace(/\B(?=(\d{3})+$)/g, "\u202f");
    return parts.join(".");
  }

  // The same words as the report writes; figures come as steps and are shown at their middle.
  rw.numberWords = function (value, digits) {
    const text = Math.abs(value).toFixed(digits || 0);
    return (value < 0 && Number(text) !== 0 ? "\u2212" : "") + grouped(text);
  };

  rw.slopeWords = function (ratio, unknown) {
    if (!isFinite(ratio)) { return unknown; }
    const percent = 100 * ratio, degrees = Math.atan(ratio) * 180 / Math.PI;
    if (percent > -0.05 && percent < 0) { return "just below 0 % (0\u00b0)"; }
    const digits = Math.abs(percent) > 0 && Math.abs(percent) < 1 ? 1 : 0;
    return rw.numberWords(percent, digits) + " % (" + rw.numberWords(degrees, digits) + "\u00b0)";
  };

  rw.metreWords = function (value) {
    return value > 0 && value < 0.5 ? "under 1 m" : rw.numberWords(value, 0) + " m";
  };

  // Reads the coded figures; "choice" says for which setup and state.
  rw.model = function (data) {
    const digit = {}, model = { data: data };
    data.alphabet.split("").forEach(function (letter, k) { digit[letter] = k; });
    model.choice = { setup: data.setup, state: data.state, view: 0 };
    let first = 0;
    model.starts = data.trails.map(function (trail) {
      const start = first;
      first += trail.e.length;
      return start;
    });

    function text(name) {
      const number = name in data.fixed ? data.fixed[name]
        : data.figures[name][model.choice.state][model.choice.setup];
      return data.packs[number];
    }

    model.code = function (name, station) {
      const packed = text(name);
      return 64 * digit[packed[2 * station]] + digit[packed[2 * station + 1]];
    };

    model.value = function (name, station) {
      const code = model.code(name, station), scale = data.scales[name];
      return code === 0 ? NaN : scale.low + (code - 1 + scale.shift) * scale.step;
    };

    // The first and last step hold everything beyond them too.
    model.beyond = function (name, station) {
      const code = model.code(name, station);
      return code === LAST ? " or more" : code === 1 && name === "reserve" ? " or less" : "";
    };

    model.classOf = function (view, station) {
      const code = model.code(view.key, station);
      return code === 0 ? 0 : 1 + view.edges.filter(function (edge) { return code >= edge; }).length;
    };

    model.stationAt = function (number, chainage) {
      const ends = data.trails[number].e;
      let k = 0;
      while (k < ends.length - 1 && ends[k] < chainage) { k += 1; }
      return k;
    };

    return model;
  };

  function between(trail, k, chainage) {
    const span = trail.m[k + 1] - trail.m[k];
    const share = span > 0 ? Math.min(1, Math.max(0, (chainage - trail.m[k]) / span)) : 0;
    const a = trail.p[k], b = trail.p[k + 1];
    return [a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])];
  }

  function segmentAt(trail, chainage) {
    let k = 0;
    while (k < trail.m.length - 2 && trail.m[k + 1] < chainage) { k += 1; }
    return k;
  }

  rw.pointAt = function (trail, chainage) {
    return between(trail, segmentAt(trail, chainage), chainage);
  };

  rw.piece = function (trail, from, to) {
    const points = [rw.pointAt(trail, from)];
    trail.m.forEach(function (m, k) { if (m > from && m < to) { points.push(trail.p[k]); } });
    points.push(rw.pointAt(trail, to));
    return points;
  };

  // Chainage of the place on the trail that is nearest to a tapped point.
  rw.chainageNear = function (map, trail, latlng) {
    const here = map.latLngToLayerPoint(latlng);
    let found = { distance: Infinity, chainage: 0 };
    for (let k = 0; k < trail.p.length - 1; k += 1) {
      const a = map.latLngToLayerPoint(trail.p[k]), b = map.latLngToLayerPoint(trail.p[k + 1]);
      const foot = L.LineUtil.closestPointOnSegment(here, a, b), distance = here.distanceTo(foot);
      if (distance < found.distance) {
        const whole = a.distanceTo(b), share = whole > 0 ? a.distanceTo(foot) / whole : 0;
        found = { distance: distance, chainage: trail.m[k] + share * (trail.m[k + 1] - trail.m[k]) };
      }
    }
    return found.chainage;
  };

  function runs(model, view, number) {
    const ends = model.data.trails[number].e, made = [];
    ends.forEach(function (end, k) {
      const kind = model.classOf(view, model.starts[number] + k), last = made[made.length - 1];
      if (last && last.kind === kind) { last.to = end; } else {
        made.push({ kind: kind, from: k ? ends[k - 1] : 0, to: end });
      }
    });
    return made;
  }

  function line(points, pane, look) {
    return L.polyline(points, Object.assign({ pane: pane, opacity: 1, interactive: false,
      lineCap: "butt" }, look));
  }

  // Draws every trail anew in the chosen view; weak classes come last, so that they lie on top.
  rw.paintTrails = function (model, group) {
    const view = model.data.views[model.choice.view], parts = [];
    model.data.trails.forEach(function (trail, number) {
      runs(model, view, number).forEach(function (run) {
        parts.push({ look: view.classes[run.kind], points: rw.piece(trail, run.from, run.to) });
      });
    });
    parts.sort(function (a, b) { return a.look.width - b.look.width; });
    group.clearLayers();
    parts.forEach(function (part) {
      const look = part.look;
      line(part.points, "rw-casing", { color: "#ffffff", weight: look.width + 5 }).addTo(group);
      line(part.points, "rw-casing", { color: look.edge, weight: look.width + 2 }).addTo(group);
      line(part.points, "rw-trail", { color: look.colour, weight: look.width,
        dashArray: look.dash || null, className: "rw-run" }).addTo(group);
    });
  };

  // Metres of a trail that are short, over the bearing capacity, not assessed; smallest reserve.
  rw.trailSums = function (model, number) {
    const ends = model.data.trails[number].e, sums = { short: 0, over: 0, unknown: 0, least: NaN };
    ends.forEach(function (end, k) {
      const station = model.starts[number] + k, length = end - (k ? ends[k - 1] : 0);
      const reserve = model.value("reserve", station);
      if (!isFinite(reserve)) { sums.unknown += length; } else if (reserve < 0) { sums.short += length; }
      if (model.value("ratio", station) > 1) { sums.over += length; }
      if (isFinite(reserve) && !(reserve >= sums.least)) { sums.least = reserve; }
    });
    return sums;
  };
}(rutwise));

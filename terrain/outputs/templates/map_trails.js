// Figures along the trails, and the trails themselves, coloured for the chosen setup and state.
(function (rw) {
  "use strict";

  const LAST = 4095;
  const SHUT_DASH = "6 8";

  // Units that are shown; the figures of the page are metres, kPa and ratios.
  rw.units = { length: { factor: 1, word: "m" }, pressure: { factor: 1, word: "kPa", digits: 0 },
    thousands: "\u202f" };

  function grouped(text) {
    const parts = text.split(".");
    parts[0] = parts[0].replace(/\B(?=(\d{3})+$)/g, rw.units.thousands);
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

  rw.lengthNumber = function (metres) {
    return rw.numberWords(metres * rw.units.length.factor, 0);
  };

  rw.lengthWords = function (metres) {
    const value = metres * rw.units.length.factor, word = rw.units.length.word;
    return value > 0 && value < 0.5 ? "under 1 " + word : rw.numberWords(value, 0) + " " + word;
  };

  // Reads the coded figures; "choice" says for which setup and state.
  rw.model = function (data) {
    const digit = {}, model = { data: data };
    data.alphabet.split("").forEach(function (letter, k) { digit[letter] = k; });
    model.choice = { setup: data.setup, state: data.state, view: 0 };
    rw.units = data.units;
    let first = 0;
    model.starts = data.trails.map(function (trail) {
      const start = first;
      first += trail.e.length;
      return start;
    });

    // Whether the plan holds an answer for the chosen state; else nothing of it is shown.
    model.judged = function () { return data.judged.includes(model.choice.state); };

    model.own = function () {
      return model.choice.setup === data.setup && model.choice.state === data.state;
    };

    function text(name) {
      if (name in data.fixed) { return data.packs[data.fixed[name]]; }
      const answer = data.figures[name][model.choice.state];
      return answer ? data.packs[answer[model.choice.setup]] : null;
    }

    model.code = function (name, station) {
      const packed = text(name);
      if (packed === null) { return 0; }
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

  // Looks of a trail's pieces: by class, or the one look of a state without an answer.
  function pieces(model, view, trail, number) {
    if (view.judged && !model.judged()) {
      return [{ look: model.data.notJudged, from: 0, to: trail.e[trail.e.length - 1] }];
    }
    return runs(model, view, number).map(function (run) {
      return { look: view.classes[run.kind], from: run.from, to: run.to };
    });
  }

  // Draws every trail anew in the chosen view; wide classes come last, so that they lie on top.
  // Ticks are a broad line of short dashes under the trail. A trail that is shut as chosen is
  // faded, in short pieces along a thin line.
  rw.paintTrails = function (model, group) {
    const view = model.data.views[model.choice.view], parts = [];
    model.data.trails.forEach(function (trail, number) {
      const shut = rw.isShut(model, number);
      pieces(model, view, trail, number).forEach(function (run) {
        parts.push({ look: run.look, points: rw.piece(trail, run.from, run.to), shut: shut });
      });
    });
    parts.sort(function (a, b) { return a.look.width - b.look.width; });
    group.clearLayers();
    parts.forEach(function (part) {
      const look = part.look;
      line(part.points, "rw-casing", { color: "#ffffff", weight: look.width + 5 }).addTo(group);
      if (look.ticks) {
        line(part.points, "rw-casing", { color: "#1d2430", weight: look.width + 10,
          dashArray: "2 12", className: "rw-ticks" }).addTo(group);
      }
      if (part.shut) {
        line(part.points, "rw-trail", { color: "#1d2430", weight: 1.5,
          className: "rw-shut-line" }).addTo(group);
      } else {
        line(part.points, "rw-casing", { color: look.edge, weight: look.width + 2 }).addTo(group);
      }
      line(part.points, "rw-trail", { color: look.colour, weight: look.width,
        opacity: part.shut ? 0.6 : 1, dashArray: part.shut ? SHUT_DASH : look.dash || null,
        className: "rw-run" + (part.shut ? " rw-shut-run" : "") }).addTo(group);
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

  // Steepest place along the trail and place of the smallest reserve, each in the middle of its
  // station; null where nothing is known.
  rw.worstPlaces = function (model, number) {
    const ends = model.data.trails[number].e, found = { steep: null, least: null };
    ends.forEach(function (end, k) {
      const station = model.starts[number] + k, at = (end + (k ? ends[k - 1] : 0)) / 2;
      const grade = model.value("grade", station), reserve = model.value("reserve", station);
      if (isFinite(grade) && !(found.steep && Math.abs(found.steep.grade) >= Math.abs(grade))) {
        found.steep = { at: at, grade: grade };
      }
      if (isFinite(reserve) && !(found.least && found.least.reserve <= reserve)) {
        found.least = { at: at, reserve: reserve };
      }
    });
    return found;
  };

  rw.steepWords = function (place) {
    return "steepest " + (place.grade < 0 ? "down " : "up ") +
      rw.slopeWords(Math.abs(place.grade)) + " at " + rw.lengthWords(place.at);
  };

  rw.leastWords = function (place) {
    return "smallest reserve " + rw.slopeWords(place.reserve) + " at " + rw.lengthWords(place.at);
  };

  // Stretches on which the chosen setup falls short in the chosen state, trail by trail.
  rw.shortRuns = function (model) {
    const made = [];
    model.data.trails.forEach(function (trail, number) {
      let last = null;
      trail.e.forEach(function (end, k) {
        const reserve = model.value("reserve", model.starts[number] + k);
        const start = k ? trail.e[k - 1] : 0;
        if (!(reserve < 0)) { last = null; return; }
        if (!last) {
          last = { number: number, from: start, to: end, reserve: reserve, at: (start + end) / 2 };
          made.push(last);
        }
        last.to = end;
        if (reserve < last.reserve) { last.reserve = reserve; last.at = (start + end) / 2; }
      });
    });
    return made;
  };
}(rutwise));

// Names and signs find room beside the trails: no name over another, no sign over a weak stretch.
(function (rw) {
  "use strict";

  // Order of choosing a place; "stretch" is a weak stretch that decides, "weak" any other.
  const RANK = { fixed: 0, stretch: 1, sign: 2, trail: 3, weak: 4, soil: 5, height: 6 };
  const LEADER = { stretch: true, sign: true, weak: true };
  const CELL = 16;

  function shown(map) {
    const found = [];
    map.eachLayer(function (layer) {
      if (layer.rw && layer.rw.kind in RANK) { found.push(layer); }
    });
    return found.sort(function (a, b) {
      return RANK[a.rw.kind] - RANK[b.rw.kind] || a.rw.order - b.rw.order ||
        (a.options.alt < b.options.alt ? -1 : 1);
    });
  }

  // Weight of the drawn lines by cell of the screen; weak stretches weigh most.
  function lineWeights(map, lines) {
    const weights = new Map();
    lines.forEach(function (line) {
      const points = line.p.map(function (at) { return map.latLngToContainerPoint(at); });
      for (let k = 1; k < points.length; k += 1) {
        const a = points[k - 1], b = points[k];
        const steps = Math.max(1, Math.ceil(a.distanceTo(b) / 6));
        for (let s = 0; s <= steps; s += 1) {
          const x = a.x + (b.x - a.x) * s / steps, y = a.y + (b.y - a.y) * s / steps;
          const key = Math.floor(x / CELL) + "," + Math.floor(y / CELL);
          weights.set(key, Math.max(weights.get(key) || 0, line.weight));
        }
      }
    });
    return weights;
  }

  function boxAt(x, y, w, h) { return { x0: x - w / 2, y0: y - h / 2, x1: x + w / 2, y1: y + h / 2 }; }

  function overlap(a, b) {
    const w = Math.min(a.x1, b.x1) - Math.max(a.x0, b.x0) + 2;
    const h = Math.min(a.y1, b.y1) - Math.max(a.y0, b.y0) + 2;
    return w > 0 && h > 0 ? w * h : 0;
  }

  function controlBoxes(map) {
    const frame = map.getContainer().getBoundingClientRect();
    return Array.from(map.getContainer().querySelectorAll(".leaflet-control")).map(function (part) {
      const box = part.getBoundingClientRect();
      return { x0: box.left - frame.left, y0: box.top - frame.top, x1: box.right - frame.left,
        y1: box.bottom - frame.top };
    });
  }

  function overLabels(box, taken) {
    return taken.reduce(function (sum, other) { return sum + overlap(box, other); }, 0);
  }

  function overLines(box, weights) {
    let sum = 0;
    for (let i = Math.floor(box.x0 / CELL); i <= Math.floor(box.x1 / CELL); i += 1) {
      for (let j = Math.floor(box.y0 / CELL); j <= Math.floor(box.y1 / CELL); j += 1) {
        sum += weights.get(i + "," + j) || 0;
      }
    }
    return sum;
  }

  function outside(box, size) {
    return box.x0 < 2 || box.y0 < 2 || box.x1 > size.x - 2 || box.y1 > size.y - 2;
  }

  // Places to try: on the point for areas and heights, around it for the rest.
  function offsets(kind, w, h) {
    if (kind === "soil" || kind === "height" || kind === "fixed") { return [[0, 0, 0]]; }
    const gaps = { trail: [9, 16], weak: [12, 22], sign: [12, 22, 34] }[kind] || [14, 26, 40, 58];
    const made = [];
    gaps.forEach(function (gap) {
      for (let k = 0; k < 8; k += 1) {
        const x = Math.cos(k * Math.PI / 4), y = Math.sin(k * Math.PI / 4);
        made.push([x * (gap + w / 2), y * (gap + h / 2), gap]);
      }
    });
    return made;
  }

  function best(map, marker, taken, weights, size) {
    const span = marker.rw.holder.firstChild, kind = marker.rw.kind;
    const w = span.offsetWidth, h = span.offsetHeight;
    let found = null;
    marker.rw.ats.forEach(function (at, turn) {
      const point = map.latLngToContainerPoint(at);
      offsets(kind, w, h).forEach(function (offset) {
        const box = boxAt(point.x + offset[0], point.y + offset[1], w, h);
        const covered = overLabels(box, taken);
        const cost = covered * 4 + overLines(box, weights) + offset[2] * 0.25 + turn * 3 +
          (outside(box, size) ? 400 : 0);
        if (!found || cost < found.cost) {
          found = { cost: cost, covered: covered / (w * h || 1), at: at, box: box, x: offset[0],
            y: offset[1] };
        }
      });
    });
    return found;
  }

  // What finds no room steps back until the map is larger; search and list reach it all the same.
  function stepsBack(kind, place, small) {
    const most = { fixed: Infinity, stretch: small ? 0.02 : 0.5, sign: 0.25, trail: 0.15, weak: 0.02 };
    return kind in most ? place.covered > most[kind] : place.cost > 60;
  }

  function drawLeader(map, place, group) {
    const from = map.latLngToContainerPoint(place.at);
    const to = L.point(Math.min(Math.max(from.x, place.box.x0), place.box.x1),
      Math.min(Math.max(from.y, place.box.y0), place.box.y1));
    L.polyline([place.at, map.containerPointToLatLng(to)], { pane: "rw-leader", color: "#1d2430",
      weight: 1.5, interactive: false, className: "rw-leader-line" }).addTo(group);
  }

  rw.placeLabels = function (map, lines, leaders) {
    const size = map.getSize(), taken = controlBoxes(map), weights = lineWeights(map, lines);
    leaders.clearLayers();
    shown(map).forEach(function (marker) {
      const kind = marker.rw.kind, place = best(map, marker, taken, weights, size);
      const hide = stepsBack(kind, place, size.x < 500) && marker.rw.order > 0;
      marker.getElement().classList.toggle("rw-away", hide);
      if (hide) { return; }
      marker.setLatLng(place.at);
      marker.rw.holder.style.transform = "translate(" + place.x + "px," + place.y + "px)";
      taken.push(place.box);
      if (LEADER[kind]) { drawLeader(map, place, leaders); }
    });
  };
}(rutwise));

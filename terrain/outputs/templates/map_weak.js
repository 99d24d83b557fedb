// Weak stretches of the plan, and the stretches that are short as chosen, on the map and as lists.
(function (rw) {
  "use strict";

  const MOST_LISTED = 40;

  rw.middle = function (points) {
    return points.length > 2 ? points[Math.floor(points.length / 2)]
      : [(points[0][0] + points[1][0]) / 2, (points[0][1] + points[1][1]) / 2];
  };

  rw.listed = function (list, text, open) {
    const button = rw.element("button", rw.element("li", list), text);
    button.type = "button";
    button.addEventListener("click", open);
  };

  rw.openStretch = function (map, model, strip, item) {
    const number = model.data.trails.findIndex(function (trail) { return trail.id === item.t; });
    if (number < 0) { return; }
    strip.show(number, item.worst);
    map.fitBounds(L.latLngBounds(item.p).pad(1.2), { animate: false, maxZoom: 18 });
  };

  // Bands and names of the weak stretches; the answer fades them when they are not of the choice.
  rw.weakStretches = function (map, model, strip, group) {
    const list = rw.byId("rw-weak-list"), bands = [], names = [];
    model.data.stretches.forEach(function (item) {
      const open = function () { rw.openStretch(map, model, strip, item); };
      bands.push(L.polyline(item.p, { pane: "rw-weak", color: "#1d2430", weight: 21, opacity: 0.5,
        dashArray: item.dash || null, lineCap: "butt", interactive: false,
        className: "rw-weak-band" }).addTo(group));
      const name = rw.mark([rw.middle(item.p)], "rw-weak rw-weak-" + item.k, item.id, { tap: true,
        lift: 500, alt: "Weak stretch " + item.id + ": " + item.kind, order: item.k,
        kind: item.k < 2 ? "stretch" : "weak" });
      rw.onPress(name, open);
      names.push(name.addTo(group));
      if (list) { rw.listed(list, item.id + ": " + item.kind, open); }
    });
    return function () {
      const own = model.own();
      document.body.classList.toggle("rw-other", !own);
      bands.forEach(function (band) { band.setStyle({ opacity: own ? 0.5 : 0.16 }); });
      names.forEach(function (name, k) {
        const item = model.data.stretches[k];
        name.rw.say(item.id, "Weak stretch " + item.id + ": " + item.kind +
          (own ? "" : " (" + rw.ownWords(model) + ")"));
      });
      rw.byId("rw-weak-note").textContent = own
        ? "For the setup and state that are chosen, which are the plan's own."
        : "Faded, because these are stretches of the plan's own setup in " + model.data.state +
          " ground, not of what is chosen above.";
    };
  };

  rw.ownWords = function (model) { return "of the plan's own setup in " + model.data.state + " ground"; };

  // Lists what is short as chosen, where that is not the plan's own choice.
  rw.tellShort = function (map, model, strip) {
    const part = rw.byId("rw-short-part"), list = rw.byId("rw-short-list");
    const runs = model.own() || !model.judged() ? [] : rw.shortRuns(model);
    part.hidden = model.own() || !model.judged();
    list.textContent = "";
    runs.slice(0, MOST_LISTED).forEach(function (run) {
      const trail = model.data.trails[run.number];
      rw.listed(list, trail.id + ", " + rw.lengthNumber(run.from) + " to " + rw.lengthWords(run.to) +
        ": " + rw.leastWords(run), function () {
        strip.show(run.number, run.at);
        map.fitBounds(L.latLngBounds(rw.piece(trail, run.from, run.to)).pad(1.2),
          { animate: false, maxZoom: 18 });
      });
    });
    if (!runs.length) { rw.element("li", list, "No metre that was assessed."); }
    if (runs.length > MOST_LISTED) {
      rw.element("li", list, (runs.length - MOST_LISTED) + " more; the colours show them.");
    }
  };
}(rutwise));

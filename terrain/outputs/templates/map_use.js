// Which trails cannot be used as chosen, by their own metres or by the way to the landing.
(function (rw) {
  "use strict";

  // Metres short of traction and metres that are not known, between two chainages of a trail.
  function metres(model, number, from, to) {
    const found = { short: 0, unknown: 0 };
    model.data.trails[number].e.forEach(function (end, k, ends) {
      const start = k ? ends[k - 1] : 0, middle = (start + end) / 2;
      if (middle < from || middle >= to) { return; }
      const reserve = model.value("reserve", model.starts[number] + k);
      if (!isFinite(reserve)) { found.unknown += end - start; }
      if (reserve < 0) { found.short += end - start; }
    });
    return found;
  }

  // From the figures of the chosen setup and state: the trail itself, then the parts of other
  // trails on its way to the landing, then water without a mapped crossing.
  function computed(model, number) {
    const trail = model.data.trails[number], own = metres(model, number, 0, Infinity);
    if (own.short > 0) {
      return ["shut", "shut: " + rw.lengthWords(own.short) + " of it short of traction"];
    }
    const way = trail.way.map(function (part) {
      return Object.assign(metres(model, part[0], part[1], part[2]),
        { id: model.data.trails[part[0]].id });
    });
    const shut = way.filter(function (part) { return part.short > 0; });
    if (shut.length) {
      const names = Array.from(new Set(shut.map(function (part) { return part.id; })));
      return ["way", "shut on the way to the landing (" + names.join(", ") + ")"];
    }
    if (own.unknown > 0 || way.some(function (part) { return part.unknown > 0; })) {
      return model.data.unknownUse;
    }
    return trail.water ? [model.data.unknownUse[0], trail.water] : null;
  }

  // Why a trail cannot be used as chosen: kind and words, or null. The plan's own table says it
  // for the plan's own setup; for any other the way to the landing is followed here.
  rw.useOf = function (model, number) {
    if (!model.judged()) { return null; }
    if (model.data.useKnown && model.choice.setup === model.data.setup) {
      return model.data.trails[number].use[model.choice.state] || null;
    }
    const key = model.choice.setup + " " + model.choice.state;
    if (model.usesOf !== key) {
      model.usesOf = key;
      model.uses = model.data.trails.map(function (trail, k) { return computed(model, k); });
    }
    return model.uses[number];
  };

  rw.isShut = function (model, number) {
    const use = rw.useOf(model, number);
    return Boolean(use) && use[0] !== "unknown";
  };

  // Which trails cannot be used as chosen: in the panel, and by a cross after their names.
  rw.tellShut = function (model, names) {
    const kinds = { shut: [], way: [], unknown: [] }, box = rw.byId("rw-shut");
    model.data.trails.forEach(function (trail, number) {
      const use = rw.useOf(model, number), shut = rw.isShut(model, number);
      if (use) { kinds[use[0]].push(trail.id); }
      const name = names[trail.id];
      if (name) {
        name.rw.say(trail.id + (shut ? " \u00d7" : ""),
          "Trail " + trail.id + (use ? ", " + use[1] : ""));
        name.rw.holder.classList.toggle("rw-is-shut", shut);
      }
    });
    const said = [["Shut: ", kinds.shut], ["Shut on the way to the landing: ", kinds.way],
      ["Not known whether it can be used: ", kinds.unknown]]
      .filter(function (pair) { return pair[1].length; })
      .map(function (pair) { return pair[0] + pair[1].join(", ") + "."; });
    box.textContent = said.join(" ");
    box.hidden = !said.length;
  };
}(rutwise));

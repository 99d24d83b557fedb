// The page as sheets of paper.
(function (rw) {
  "use strict";

  // Names that found no room on the printed map; the list of weak stretches has all of its own.
  function tellLeftOut(map) {
    const names = [], box = rw.byId("rw-left-out");
    map.eachLayer(function (layer) {
      const away = layer.rw && layer.getElement().classList.contains("rw-away");
      if (away && ["stretch", "weak", "sign", "trail"].includes(layer.rw.kind)) {
        names.push(layer.rw.holder.textContent);
      }
    });
    box.textContent = names.length ? "Names without room on this map: " + names.sort().join(", ") +
      ". The list of weak stretches below has all of its own." : "";
  }

  // While printing the page is laid out as sheets, with the whole block on the map.
  rw.printing = function (map, bounds, strip, place) {
    let before = null;
    const main = rw.byId("rw-main"), body = rw.byId("rw-body"), legend = rw.byId("rw-legend");
    const after = legend.nextElementSibling;
    window.addEventListener("beforeprint", function () {
      if (before) { return; }
      const parts = Array.from(document.querySelectorAll("details"));
      before = { centre: map.getCenter(), zoom: map.getZoom(),
        open: parts.map(function (part) { return part.open; }), parts: parts };
      parts.forEach(function (part) { part.open = !part.hasAttribute("data-screen"); });
      document.body.classList.add("rw-printing");
      body.insertBefore(main, body.querySelector("details"));
      body.insertBefore(legend, rw.byId("rw-answer-part").nextElementSibling);
      map.invalidateSize(false);
      map.fitBounds(bounds, { animate: false, padding: [16, 16] });
      strip.refresh();
      place();
      tellLeftOut(map);
    });
    window.addEventListener("afterprint", function () {
      if (!before) { return; }
      document.body.classList.remove("rw-printing");
      document.body.appendChild(main);
      body.insertBefore(legend, after);
      before.parts.forEach(function (part, k) { part.open = before.open[k]; });
      map.invalidateSize(false);
      map.setView(before.centre, before.zoom, { animate: false });
      before = null;
      strip.refresh();
      place();
    });
    rw.byId("rw-print").addEventListener("click", function () { window.print(); });
  };
}(rutwise));

// Where a tap lies: latitude, longitude and grid figures, for every tap on the map.
(function (rw) {
  "use strict";

  // Easting and northing between the four nearest figures of the table; null outside of it.
  rw.gridAt = function (grid, lat, lon) {
    const n = grid.x.length - 1;
    const x = (lon - grid.west) / (grid.east - grid.west) * n;
    const y = (lat - grid.south) / (grid.north - grid.south) * n;
    if (!(x >= 0 && x <= n && y >= 0 && y <= n)) { return null; }
    const column = Math.min(Math.floor(x), n - 1), row = Math.min(Math.floor(y), n - 1);
    const u = x - column, v = y - row;
    const mixed = function (table) {
      return (1 - v) * ((1 - u) * table[row][column] + u * table[row][column + 1]) +
        v * ((1 - u) * table[row + 1][column] + u * table[row + 1][column + 1]);
    };
    return [mixed(grid.x), mixed(grid.y)];
  };

  // Fills the readout; "name" says of what, where it is not the tapped ground itself.
  rw.tellPlace = function (grid, latlng, name) {
    const at = rw.gridAt(grid, latlng.lat, latlng.lng), box = rw.byId("rw-readout");
    const degrees = Math.abs(latlng.lat).toFixed(5) + "\u00b0 " + (latlng.lat < 0 ? "S" : "N") +
      ", " + Math.abs(latlng.lng).toFixed(5) + "\u00b0 " + (latlng.lng < 0 ? "W" : "E");
    box.textContent = "";
    if (name) { rw.element("b", box, name); }
    rw.element("span", box, (name ? " \u00b7 " : "") + degrees + (at
      ? " \u00b7 E " + rw.numberWords(at[0], 0) + " m, N " + rw.numberWords(at[1], 0) + " m (" +
        grid.crs + ")" : " \u00b7 outside the grid table"));
  };

  // Before anything on the map answers a tap, the tapped ground is told; a sign then tells its own
  // place. A popup and the map's buttons are no ground; the end of a drag is no tap.
  rw.tellTaps = function (map, grid) {
    map.getContainer().addEventListener("click", function (event) {
      const dragged = [map.dragging, map.boxZoom].some(function (handler) {
        return handler && handler.moved();
      });
      if (dragged || event.target.closest(".leaflet-control, .leaflet-popup")) { return; }
      rw.tellPlace(grid, map.mouseEventToLatLng(event));
    }, true);
    rw.things.forEach(function (thing) {
      if (thing.layer.getLatLng) {
        thing.layer.on("popupopen", function () {
          rw.tellPlace(grid, L.latLng(thing.at), thing.name);
        });
      }
    });
  };
}(rutwise));

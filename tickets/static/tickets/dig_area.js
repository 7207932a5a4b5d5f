// Draws the dig area on a grid in feet around the site's position: Leaflet without tiles, north up.
// The outline's text field holds the truth; without this script it is typed or pasted.
(() => {
  const FOOT_M = 0.3048;
  const A = 6378137, E2 = (1 / 298.257223563) * (2 - 1 / 298.257223563); // WGS 84
  const box = document.querySelector("#dig-drawing");
  if (!box || typeof L === "undefined") return;
  const field = document.getElementById(box.dataset.outline);
  const status = box.querySelector("[role=status]");
  const input = (name) => document.getElementById(`id_${name}`);

  // Metres a degree of longitude and latitude, from the ellipsoid's radii of curvature.
  const unit = (latitude) => {
    const phi = (latitude * Math.PI) / 180, w2 = 1 - E2 * Math.sin(phi) ** 2, rad = Math.PI / 180;
    return [(rad * A * Math.cos(phi)) / Math.sqrt(w2), (rad * A * (1 - E2)) / w2 ** 1.5];
  };
  const origin = () => {
    const read = (name) => {
      const typed = input(name)?.value.trim();
      return typed ? Number(typed) : Number(box.dataset[name] ?? NaN);
    };
    const at = { latitude: read("latitude"), longitude: read("longitude") };
    return Number.isFinite(at.latitude) && Number.isFinite(at.longitude) && Math.abs(at.latitude) < 85 ? at : null;
  };

  box.hidden = false;
  const map = L.map(box.querySelector(".ground"), {
    crs: L.CRS.Simple, attributionControl: false, zoomSnap: 0.5, minZoom: -3, maxZoom: 5,
    zoomAnimation: false, fadeAnimation: false, doubleClickZoom: false,
  }).setView([0, 0], 1.5);
  const grid = L.layerGroup().addTo(map);
  const shape = L.layerGroup().addTo(map);
  let corners = []; // [east_ft, north_ft]

  const drawGrid = () => {
    grid.clearLayers();
    const seen = map.getBounds().pad(0.1), pixels = 2 ** map.getZoom();
    const step = [1, 2, 5, 10, 20, 50, 100, 200, 500, 1000].find((s) => s * pixels >= 24) ?? 2000;
    box.querySelector(".spacing").textContent = `${step} ft`;
    const line = (from, to, main) => L.polyline([from, to], {
      className: main ? "grid main" : "grid", interactive: false,
    }).addTo(grid);
    for (let e = Math.ceil(seen.getWest() / step) * step; e <= seen.getEast(); e += step)
      line([seen.getSouth(), e], [seen.getNorth(), e], e === 0);
    for (let n = Math.ceil(seen.getSouth() / step) * step; n <= seen.getNorth(); n += step)
      line([n, seen.getWest()], [n, seen.getEast()], n === 0);
  };

  const drawShape = () => {
    shape.clearLayers();
    const points = corners.map(([e, n]) => [n, e]);
    if (points.length > 2) L.polygon(points, { className: "dig", interactive: false }).addTo(shape);
    else if (points.length) L.polyline(points, { className: "dig", interactive: false }).addTo(shape);
    points.forEach((p) => L.circleMarker(p, { radius: 4, className: "corner", interactive: false }).addTo(shape));
  };

  const say = () => {
    const at = origin();
    if (!at) { status.textContent = "Give the site's position first; then draw."; return; }
    if (corners.length < 3) {
      status.textContent = corners.length ? `${corners.length} of at least 3 corners.` : "No corner yet.";
      return;
    }
    const twice = corners.reduce((sum, [e, n], i) => {
      const [e2, n2] = corners[(i + 1) % corners.length];
      return sum + e * n2 - e2 * n;
    }, 0);
    status.textContent = `${corners.length} corners, ${Math.round(Math.abs(twice) / 2)} square feet.`;
  };

  const write = () => {
    const at = origin();
    if (at && corners.length > 2) {
      const [lonM, latM] = unit(at.latitude);
      const ring = corners.map(([e, n]) => [
        Number((at.longitude + (e * FOOT_M) / lonM).toFixed(8)),
        Number((at.latitude + (n * FOOT_M) / latM).toFixed(8)),
      ]);
      field.value = JSON.stringify({ type: "Polygon", coordinates: [[...ring, ring[0]]] });
      const way = document.querySelector('input[name="dig_way"][value="outline"]');
      if (way) way.checked = true;
    } else if (corners.length) field.value = "";
    drawShape();
    say();
  };

  const read = () => {
    const at = origin();
    corners = [];
    try {
      const given = JSON.parse(field.value);
      if (at && given.type === "Polygon") {
        const [lonM, latM] = unit(at.latitude);
        corners = given.coordinates[0].slice(0, -1).map(([lon, lat]) => [
          ((lon - at.longitude) * lonM) / FOOT_M, ((lat - at.latitude) * latM) / FOOT_M,
        ]);
      }
    } catch { /* not an outline yet; the server says so on saving */ }
    if (corners.length) map.fitBounds(corners.map(([e, n]) => [n, e]), { padding: [40, 40], maxZoom: 3 });
    drawShape();
    say();
  };

  const add = (at) => {
    if (!origin()) { say(); return; }
    corners.push([at.lng, at.lat]);
    write();
  };
  const acts = {
    corner: () => add(map.getCenter()),
    back: () => { corners.pop(); if (!corners.length) field.value = ""; write(); },
    clear: () => { corners = []; field.value = ""; write(); },
  };
  box.addEventListener("click", (event) => acts[event.target.dataset?.act]?.());
  map.on("click", (event) => add(event.latlng));
  map.on("moveend zoomend", drawGrid);
  field.addEventListener("change", read);
  // The drawing is kept in feet from the position, so a corrected position moves the outline with it.
  for (const name of ["latitude", "longitude"]) input(name)?.addEventListener("change", write);
  // Put away until the outline is chosen, the map has no size.
  new ResizeObserver(() => { map.invalidateSize(); drawGrid(); }).observe(box);
  drawGrid();
  read();
})();

// The map of a room: state and county lines, the waters loaded here, what is drawn, and a scale.
// Nothing is fetched from another host unless the operator has named one for the ground.

import { askJson, debounce, element, words } from "./app.js";

const LOOKS = {
  place: { color: "#15323b", weight: 2.5, fillColor: "#7fa7b4", fillOpacity: 0.45 },
  bed: { color: "#3c5a1e", weight: 2, dashArray: "5 3", fillOpacity: 0.15 },
  water: { color: "#1d5c86", weight: 3, fillColor: "#9fc3d8", fillOpacity: 0.5 },
  nearby: { color: "#4a86a8", weight: 1.5, fillColor: "#cfe0e8", fillOpacity: 0.6 },
  line: { color: "#6b5f4a", weight: 1.2, fill: false, dashArray: "6 4" },
  outlet: { radius: 7, color: "#7a3f0a", weight: 2, fillColor: "#fff", fillOpacity: 1 },
  overflow: { radius: 7, color: "#7a3f0a", weight: 2, fillColor: "#e8b36b", fillOpacity: 1 },
  site: { radius: 7, color: "#15323b", weight: 2, fillColor: "#f3c24f", fillOpacity: 1 },
  draft: { color: "#a34c00", weight: 2.5, dashArray: "4 4", fillOpacity: 0.1 },
};

let library = null;

function leaflet() {
  library ??= new Promise((resolve, reject) => {
    const script = document.createElement("script");
    script.src = new URL("./vendor/leaflet/leaflet.js", import.meta.url).href;
    script.onload = () => resolve(window.L);
    script.onerror = () => reject(new Error("the map could not be loaded"));
    const style = element("link", { rel: "stylesheet", href: new URL("./vendor/leaflet/leaflet.css", import.meta.url).href });
    style.onload = () => document.head.append(script);
    style.onerror = script.onerror;
    document.head.append(style);
  });
  return library;
}

export async function makeMap(box, tools) {
  return new SiteMap(await leaflet(), box, tools);
}

class SiteMap {
  constructor(L, box, tools) {
    this.L = L;
    this.tools = tools;
    const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    const gentle = calm ? { zoomAnimation: false, fadeAnimation: false, inertia: false } : {};
    this.map = L.map(box, { attributionControl: Boolean(words.tiles), minZoom: 3, maxZoom: 21, ...gentle }).setView([39.5, -96], 4);
    L.control.scale().addTo(this.map);
    if (words.tiles) L.tileLayer(words.tiles, { attribution: words.tiles_credit, maxZoom: 21, maxNativeZoom: 19 }).addTo(this.map);
    this.base = L.geoJSON(null, {
      style: (feature) => LOOKS[feature.properties.what === "water" ? "nearby" : "line"],
      pointToLayer: (feature, at) => L.circleMarker(at, LOOKS.nearby),
      onEachFeature: (feature, layer) => layer.bindTooltip(feature.properties.name || "water without a name", { sticky: true }),
    }).addTo(this.map);
    this.drawn = L.layerGroup().addTo(this.map);
    this.map.on("moveend", debounce(() => this.loadBase(), 250));
    this.loadBase();
    new ResizeObserver(() => this.map.invalidateSize()).observe(box);
  }

  async loadBase() {
    const bounds = this.map.getBounds();
    const box = [bounds.getWest(), bounds.getSouth(), bounds.getEast(), bounds.getNorth()].map((value) => value.toFixed(5)).join(",");
    const zoom = this.map.getZoom();
    try {
      const found = await askJson(`/map/shapes?box=${box}&zoom=${zoom}`);
      this.base.clearLayers();
      this.base.addData(found);
    } catch {
      // The lines are an aid; without them drawing goes on.
    }
  }

  /** Shows the shapes of a plan. Each: {what, geometry, name}. */
  show(shapes) {
    this.drawn.clearLayers();
    for (const { what, geometry, name, onPress } of shapes) {
      const look = LOOKS[what];
      const layer = this.L.geoJSON(geometry, { style: look, pointToLayer: (_, at) => this.L.circleMarker(at, look) });
      layer.bindTooltip(name, { sticky: true });
      if (onPress) layer.on("click", onPress);
      layer.addTo(this.drawn);
    }
  }

  /** Brings everything drawn into view. */
  fit() {
    const bounds = this.L.featureGroup(this.drawn.getLayers()).getBounds();
    if (bounds.isValid()) this.map.fitBounds(bounds.pad(0.4), { maxZoom: 18, animate: false });
  }

  look([west, south, east, north]) {
    this.map.fitBounds([[south, west], [north, east]], { animate: false });
  }

  middle() {
    const { lng, lat } = this.map.getCenter().wrap();
    return [round(lng), round(lat)];
  }

  /** One drawing: press the map for each corner, or use the buttons with the middle of the map. */
  draw(kind, what) {
    this.cancel?.();
    const { L, map, tools } = this;
    const corners = [];
    const draft = L.layerGroup().addTo(map);
    const show = () => {
      draft.clearLayers();
      if (kind === "polygon" && corners.length > 2) L.polygon(corners, LOOKS.draft).addTo(draft);
      else if (corners.length > 1) L.polyline(corners, LOOKS.draft).addTo(draft);
      for (const corner of corners) L.circleMarker(corner, { ...LOOKS.draft, radius: 4, fillOpacity: 1 }).addTo(draft);
      finish.disabled = corners.length < (kind === "polygon" ? 3 : kind === "line" ? 2 : 1);
      undo.disabled = !corners.length;
    };
    return new Promise((resolve) => {
      const end = (shape) => {
        this.cancel = null;
        draft.remove();
        map.off("click", press);
        map.doubleClickZoom.enable();
        map.getContainer().classList.remove("drawing");
        document.removeEventListener("keydown", keys);
        tools.replaceChildren();
        resolve(shape);
      };
      const put = (at) => {
        corners.push(at);
        if (kind === "point") end({ type: "Point", coordinates: position(at) });
        else show();
      };
      const done = () => {
        const line = corners.map(position);
        end(kind === "polygon" ? { type: "Polygon", coordinates: [anticlockwise([...line, line[0]])] } : { type: "LineString", coordinates: line });
      };
      const press = (event) => put(event.latlng.wrap());
      const keys = (event) => {
        if (event.key === "Escape") end(null);
        if (event.key === "Enter" && !finish.disabled && !event.target.closest("button, input, select, textarea")) done();
      };
      const say = { polygon: "Press the map at each corner, then Finish.", line: "Press the map along the water, from its upper end down, then Finish.", point: "Press the map where it is." }[kind];
      finish.onclick = done;
      undo.onclick = () => {
        corners.pop();
        show();
      };
      this.cancel = () => end(null);
      const middle = element("button", { type: "button", textContent: kind === "point" ? "Put it in the middle of the map" : "Put a corner in the middle of the map", onclick: () => put(map.getCenter().wrap()) });
      const stop = element("button", { type: "button", textContent: "Cancel", onclick: () => end(null) });
      tools.replaceChildren(element("span", { role: "status" }, `Drawing ${what}. ${say} `), middle, ...(kind === "point" ? [] : [undo, finish]), stop);
      map.on("click", press);
      map.doubleClickZoom.disable();
      map.getContainer().classList.add("drawing");
      document.addEventListener("keydown", keys);
      show();
      middle.focus();
    });
  }
}

const finish = element("button", { type: "button", className: "main", textContent: "Finish" });
const undo = element("button", { type: "button", textContent: "Take back the last corner" });

function round(value) {
  return Math.round(value * 1e6) / 1e6;
}

function position({ lng, lat }) {
  return [round(lng), round(lat)];
}

function turning(ring) {
  return ring.slice(1).reduce((sum, [x, y], at) => sum + (x - ring[at][0]) * (y + ring[at][1]), 0);
}

/** The outer ring as RFC 7946 has it. */
function anticlockwise(ring) {
  return turning(ring) > 0 ? ring.reverse() : ring;
}

/** Square metres inside a ring of degrees, on a sphere of the earth's mean radius: for a hint on screen; the answer measures on the ellipsoid. */
export function squareMetres(ring) {
  const R = 6371008.8;
  const rad = Math.PI / 180;
  let sum = 0;
  for (let at = 0; at < ring.length - 1; at += 1) {
    const [x1, y1] = ring[at];
    const [x2, y2] = ring[at + 1];
    sum += (x2 - x1) * rad * (2 + Math.sin(y1 * rad) + Math.sin(y2 * rad));
  }
  return Math.abs((sum * R * R) / 2);
}

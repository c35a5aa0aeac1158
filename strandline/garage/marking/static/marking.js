// A hand on the reading: marks on the shaft that slide under a thumb, two lines along its edges, and the lengths that
// the laptop works out from them at each move. Points are in pixels of the upright photo.

import { LOUPE_TIMES, drawLoupe } from "./marking-loupe.js";
import { dot, length, longer, minus, nearestOn, plus, pointOn, tangentAt, unit } from "./marking-lines.js";

const RIMS = ["seal", "marker", "marker_end", "far"];
const KNOB = { seal: "Seal", marker: "Marker", marker_end: "Band", far: "End" };
const NAME = { seal: "Seal", marker: "Marker, edge towards the seal", marker_end: "Marker, its other edge", far: "Far end" };
// Which side of the shaft a knob stands on: neighbours on different ones.
const SIDE = { seal: -1, marker: 1, marker_end: -1, far: 1 };
const START = { seal: 0.04, marker: 0.4, marker_end: 0.44, far: 0.96 }; // along the lines, for marks not set yet
const KNOB_AWAY = 46; // points of the screen from the silhouette to the middle of a knob
const SLOW = 0.12; // points a millisecond: slower moves are for the last pixels
const SLOW_GAIN = 0.3;
// What a thumb errs by under the loupe, points of the loupe (one standard deviation; a choice, not measured on people),
// and the least in pixels of the photo: an edge's own blur.
const THUMB_POINTS = 3;
const LEAST_SD_PX = 0.7;
const MOST_SD_PX = 12;

const root = document.getElementById("marking");
const byId = (id) => document.getElementById(id);
const box = root && byId("mk-open") ? root : null;

function start() {
  const [open, tool, said] = ["mk-open", "mk-tool", "mk-said"].map(byId);
  const photo = `/photo/${box.dataset.photo}`;
  const size = [Number(box.dataset.width), Number(box.dataset.height)];
  open.hidden = false;
  const begin = async () => {
    open.hidden = true;
    tool.hidden = false;
    try {
      const answer = await fetch(`${photo}/marks`);
      const found = await answer.json();
      if (!answer.ok || found.what) {
        said.textContent = `${found.what} ${found.advice}`;
        return;
      }
      window.__marking = new Marking(photo, size, found); // for its own tests
    } catch {
      said.textContent = "The laptop does not answer. Open this page again.";
      open.hidden = false;
    }
  };
  open.addEventListener("click", begin);
  if (location.hash === "#marking" || open.dataset.open) begin();
}

const clone = (value) => JSON.parse(JSON.stringify(value));

class Marking {
  constructor(photo, size, found) {
    this.photo = photo;
    this.size = size;
    this.found = found;
    this.kept = found.kept;
    this.mode = "rims";
    this.past = [];
    this.scale = 1;
    this.at = [0, 0]; // of the photo's corner on the stage
    this.measured = found.measured;
    this.stage = byId("mk-stage");
    this.picture = byId("mk-picture");
    this.lines = byId("mk-lines");
    this.loupe = byId("mk-loupe");
    this.handles = new Map();
    byId("mk-work").hidden = false;
    this.state = this.begun();
    this.say();
    for (const [id, action] of [
      ["mk-rims", () => this.choose("rims")],
      ["mk-edges", () => this.choose("edges")],
      ["mk-in", () => this.zoom(1.5)],
      ["mk-out", () => this.zoom(1 / 1.5)],
      ["mk-undo", () => this.undo()],
      ["mk-reset", () => this.reset()],
      ["mk-none", () => this.noMarker()],
      ["mk-keep", () => this.keep()],
    ])
      byId(id)?.addEventListener("click", action);
    document.addEventListener("keydown", (event) => {
      if (event.key === "z" && (event.ctrlKey || event.metaKey)) {
        event.preventDefault();
        this.undo();
      }
    });
    this.stage.addEventListener("pointerdown", (event) => this.pan(event));
    this.stage.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(event.deltaY < 0 ? 1.2 : 1 / 1.2, [event.offsetX, event.offsetY]);
    }, { passive: false });
    new ResizeObserver(() => this.draw()).observe(this.stage);
    this.choose(found.seen.length || this.kept ? "rims" : "edges");
    this.fit();
    this.show();
  }

  begun() {
    const from = this.kept || { marks: this.found.marks, set: [], left_out: [] };
    return { marks: clone(from.marks), set: clone(from.set), out: clone(from.left_out), scales: {} };
  }

  say() {
    const seen = this.found.seen;
    let text = "The program found no shaft here. Lay the two lines on its edges, then set the rims.";
    if (this.kept) text = "These are the marks that were kept.";
    else if (seen.includes("seal") && seen.includes("marker") && seen.includes("far"))
      text = "The program set these marks; how sure it is stands below. Move what is wrong.";
    else if (seen.length) text = "The program set some marks. Set the ones with a dashed ring, and move what is wrong.";
    else if (this.found.found_edges)
      text = "The program found edges but could not go on from them. Lay the two lines right, then set the rims.";
    byId("mk-said").textContent = text;
  }

  // Between the photo's pixels and the stage's points.
  toStage(point) {
    return [this.at[0] + point[0] * this.scale, this.at[1] + point[1] * this.scale];
  }

  toPhoto(point) {
    return [(point[0] - this.at[0]) / this.scale, (point[1] - this.at[1]) / this.scale];
  }

  fit() {
    const points = [...RIMS.map((name) => this.state.marks[name]), ...this.state.marks.edges.flat()].filter(Boolean);
    const [w, h] = [this.stage.clientWidth, this.stage.clientHeight];
    if (!points.length) points.push([0, 0], this.size);
    const low = [0, 1].map((k) => Math.min(...points.map((p) => p[k])));
    const high = [0, 1].map((k) => Math.max(...points.map((p) => p[k])));
    const room = 2 * KNOB_AWAY + 70;
    const wanted = Math.min((w - room) / (high[0] - low[0] + 1), (h - 110) / (high[1] - low[1] + 1));
    const whole = Math.min(w / this.size[0], h / this.size[1]);
    this.scale = Math.min(Math.max(wanted, whole), 4);
    this.at = [0, 1].map((k) => [w, h][k] / 2 - (this.scale * (low[k] + high[k])) / 2);
    this.draw();
  }

  zoom(times, about) {
    const [w, h] = [this.stage.clientWidth, this.stage.clientHeight];
    const held = about || this.focused() || [w / 2, h / 2];
    const place = this.toPhoto(held);
    const whole = Math.min(w / this.size[0], h / this.size[1]);
    this.scale = Math.min(Math.max(this.scale * times, 0.8 * whole), 8);
    const middle = about ? held : [w / 2, h / 2];
    this.at = [middle[0] - place[0] * this.scale, middle[1] - place[1] * this.scale];
    this.draw();
  }

  focused() {
    const handle = document.activeElement && this.handles.get(document.activeElement.dataset.mark);
    return handle ? this.toStage(this.pointOf(handle.dataset.mark)) : null;
  }

  pan(event) {
    if (event.target.closest(".mk-handle")) return;
    this.fingers = this.fingers || new Map();
    this.fingers.set(event.pointerId, [event.clientX, event.clientY]);
    this.stage.setPointerCapture(event.pointerId);
    const move = (next) => {
      if (!this.fingers.has(next.pointerId)) return;
      const before = [...this.fingers.values()].map((p) => [...p]);
      this.fingers.set(next.pointerId, [next.clientX, next.clientY]);
      const now = [...this.fingers.values()];
      const mean = (all) => all.reduce((a, b) => plus(a, b, 1 / all.length), [0, 0]);
      this.at = plus(this.at, minus(mean(now), mean(before)));
      if (now.length === 2) {
        const corner = this.stage.getBoundingClientRect();
        const times = length(minus(...now)) / Math.max(length(minus(...before)), 1);
        this.zoom(times, minus(mean(now), [corner.left, corner.top]));
      }
      this.draw();
    };
    const end = (last) => {
      this.fingers.delete(last.pointerId);
      this.stage.removeEventListener("pointermove", move);
      this.stage.removeEventListener("pointerup", end);
      this.stage.removeEventListener("pointercancel", end);
    };
    this.stage.addEventListener("pointermove", move);
    this.stage.addEventListener("pointerup", end);
    this.stage.addEventListener("pointercancel", end);
  }

  choose(mode) {
    this.mode = mode;
    byId("mk-rims").setAttribute("aria-pressed", mode === "rims");
    byId("mk-edges").setAttribute("aria-pressed", mode === "edges");
    byId("mk-how").textContent =
      mode === "rims"
        ? "Slide a mark along the shaft with your thumb, slowly for the last pixels; or choose it and use the arrow keys."
        : "Lay each line on one edge of the bare shaft: move its two ends, or both lines by the knob between them.";
    this.draw();
  }

  // The line on which marks slide.
  rail() {
    return this.measured && this.measured.rail.length ? this.measured.rail : null;
  }

  nearest(point) {
    return nearestOn(this.rail(), point);
  }

  onRail(place) {
    return pointOn(this.rail(), place);
  }

  tangent(place) {
    return tangentAt(this.rail(), place);
  }

  mm(point) {
    const { place } = this.nearest(point);
    const all = this.measured.rail_mm;
    const i = Math.min(Math.floor(place), all.length - 2);
    return all[i] + (place - i) * (all[i + 1] - all[i]);
  }

  pointOf(name) {
    const { marks } = this.state;
    if (name.startsWith("edge")) return marks.edges[Number(name[5])][Number(name[7])];
    if (name === "both") return this.middle();
    if (marks[name]) return marks[name];
    const places = marks.edges.flat().map((p) => this.nearest(p).place);
    const [low, high] = places.length ? [Math.min(...places), Math.max(...places)] : [15, 45];
    return this.onRail(low + START[name] * (high - low));
  }

  middle() {
    const all = this.state.marks.edges.flat();
    return all.reduce((a, b) => plus(a, b, 1 / all.length), [0, 0]);
  }

  isSet(name) {
    if (name.startsWith("edge") || name === "both") return this.isSet2("edges");
    return this.isSet2(name) && Boolean(this.state.marks[name]);
  }

  isSet2(name) {
    return this.state.set.includes(name) || this.found.seen.includes(name);
  }

  names() {
    if (this.mode === "edges")
      return [...this.state.marks.edges.flatMap((line, i) => line.map((_, j) => `edge ${i} ${j}`)), "both"];
    return this.rail() ? RIMS.filter((name) => !this.state.out.includes(name)) : [];
  }

  // All changes go through here.
  remember(key) {
    const now = Date.now();
    if (!(key && key === this.lastKey && now - this.lastTime < 800)) this.past.push(clone(this.state));
    [this.lastKey, this.lastTime] = [key, now];
    byId("mk-undo").disabled = false;
  }

  put(name, point) {
    const { marks, set, scales } = this.state;
    const clamp = (p) => p.map((value, k) => Math.min(Math.max(value, -0.3 * this.size[k]), 1.3 * this.size[k]));
    let what = name;
    if (name.startsWith("edge")) {
      marks.edges[Number(name[5])][Number(name[7])] = clamp(point);
      what = "edges";
    } else if (name === "both") {
      const by = minus(point, this.middle());
      marks.edges = marks.edges.map((line) => line.map((end) => clamp(plus(end, by))));
      what = "edges";
    } else marks[name] = this.nearest(point).point;
    if (!set.includes(what)) set.push(what);
    scales[what] = this.scale;
    this.draw();
    this.solve();
  }

  undo() {
    if (!this.past.length) return;
    this.state = this.past.pop();
    this.lastKey = null;
    byId("mk-undo").disabled = !this.past.length;
    this.afterChange();
  }

  reset() {
    this.remember();
    this.state = { marks: clone(this.found.marks), set: [], out: [], scales: {} };
    this.afterChange();
  }

  noMarker() {
    this.remember();
    const out = this.state.out.includes("marker");
    this.state.out = out ? [] : ["marker", "marker_end"];
    this.state.set = this.state.set.filter((name) => !name.startsWith("marker"));
    this.afterChange();
  }

  afterChange() {
    byId("mk-none")?.setAttribute("aria-pressed", this.state.out.includes("marker"));
    this.draw();
    this.solve();
  }

  sd() {
    const { set, scales } = this.state;
    const each = set.map((name) => THUMB_POINTS / LOUPE_TIMES / (scales[name] || this.scale));
    return Math.min(Math.max(LEAST_SD_PX, ...each), MOST_SD_PX);
  }

  body() {
    const { marks, set, out } = this.state;
    return JSON.stringify({ ...marks, sd: this.sd(), set, left_out: out });
  }

  // One question at a time; the last state is always asked for.
  async solve() {
    this.changed = true;
    if (this.asking) return;
    this.asking = true;
    byId("mk-lengths").setAttribute("aria-busy", "true");
    while (this.changed) {
      this.changed = false;
      try {
        const headers = { "Content-Type": "application/json" };
        const answer = await fetch(`${this.photo}/marks`, { method: "POST", headers, body: this.body() });
        const found = await answer.json();
        if (answer.ok) this.measured = found.rail.length ? found : { ...found, ...this.lastLines() };
        else byId("mk-why").textContent = `${found.what} ${found.advice}`;
        if (answer.ok) this.show();
      } catch {
        byId("mk-why").textContent = "The laptop does not answer; it is asked again at the next move.";
      }
    }
    this.asking = false;
    byId("mk-lengths").removeAttribute("aria-busy");
    this.draw();
  }

  lastLines() {
    const { rail, rail_mm, sides, curves } = this.measured || { rail: [], rail_mm: [], sides: [], curves: {} };
    return { rail, rail_mm, sides, curves };
  }

  show() {
    const list = byId("mk-lengths");
    list.replaceChildren();
    const rows = this.measured.lengths.map((one) => [one.words, one.text]);
    if (this.measured.stroke) rows.push(["Stroke used", this.measured.stroke]);
    for (const [words, text] of rows) {
      const [name, value] = [document.createElement("dt"), document.createElement("dd")];
      [name.textContent, value.textContent] = [words, text];
      list.append(name, value);
    }
    const waits = this.measured.waits_for;
    const said = { edges: "both edges", seal: "the seal", marker: "the marker", far: "the far end" };
    const end = this.measured.at_stop ? ["The marker touches the far end: the stroke used is at least this."] : [];
    let why = [...this.measured.why, ...end, ...this.measured.remarks].join(" ");
    if (waits.length) why = `Still to set: ${waits.map((name) => said[name]).join(", ")}.`;
    byId("mk-why").textContent = why;
    byId("mk-keep").disabled = !this.measured.lengths.some((one) => one.text !== "–");
    this.draw();
  }

  async keep() {
    const button = byId("mk-keep");
    button.disabled = true;
    try {
      const headers = { "Content-Type": "application/json" };
      const answer = await fetch(`${this.photo}/marks/keep`, { method: "POST", headers, body: this.body() });
      const found = await answer.json();
      if (answer.ok) {
        byId("mk-kept").textContent = `Kept. ${found.said}`;
        location.assign(found.page);
        return;
      }
      byId("mk-kept").textContent = `${found.what} ${found.advice}`;
    } catch {
      byId("mk-kept").textContent = "The laptop does not answer. The marks stay here; keep them again.";
    }
    button.disabled = false;
  }

  // Drawing.
  draw() {
    if (this.waitsForFrame) return;
    this.waitsForFrame = true;
    requestAnimationFrame(() => {
      this.waitsForFrame = false;
      this.drawNow();
    });
  }

  drawNow() {
    const style = this.picture.style;
    style.width = `${this.size[0] * this.scale}px`;
    style.height = `${this.size[1] * this.scale}px`;
    style.left = `${this.at[0]}px`;
    style.top = `${this.at[1]}px`;
    this.lines.replaceChildren();
    for (const side of (this.measured && this.mode === "rims" && this.measured.sides) || []) this.path(side, "side");
    if (this.mode === "edges")
      for (const line of this.state.marks.edges) this.path(longer(line), this.isSet2("edges") ? "side" : "side unset");
    const names = this.names();
    for (const [name, handle] of this.handles)
      if (!names.includes(name)) {
        handle.remove();
        this.handles.delete(name);
      }
    const taken = [];
    for (const name of names) {
      const point = this.pointOf(name);
      if (RIMS.includes(name)) this.path(this.curve(name, point), this.isSet(name) ? "over" : "over unset");
      const mark = this.toStage(point);
      const knob = this.knobAt(name, mark, taken);
      taken.push(knob);
      this.leader(mark, knob);
      this.place(name, knob);
    }
    if (!this.held) return;
    const point = this.pointOf(this.held);
    const lines = RIMS.includes(this.held) ? [this.curve(this.held, point)] : this.state.marks.edges.map(longer);
    drawLoupe(this.loupe, this.picture, { point, scale: this.scale, width: this.size[0] }, lines);
  }

  // A rim's curve where it is now: the last one that came, moved to the mark.
  curve(name, point) {
    const near = this.nearest(point);
    const known = this.measured.curves[name];
    if (known) return known.map((p) => plus(p, minus(near.point, known[(known.length - 1) / 2])));
    const t = this.tangent(near.place);
    const half = this.halfWidth(near.place);
    return [plus(near.point, [-t[1], t[0]], half), plus(near.point, [-t[1], t[0]], -half)];
  }

  halfWidth(place) {
    const [a, b] = this.measured.sides;
    const i = Math.min(Math.max(Math.round(place), 0), a.length - 1);
    return length(minus(a[i], b[i])) / 2;
  }

  path(points, kind) {
    const stagePoints = points.map((p) => this.toStage(p).map((v) => v.toFixed(1)).join(" "));
    for (const layer of [`${kind} under`, kind]) {
      const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
      path.setAttribute("d", `M${stagePoints.join("L")}`);
      path.setAttribute("class", layer);
      this.lines.append(path);
    }
  }

  leader(from, to) {
    const path = document.createElementNS("http://www.w3.org/2000/svg", "path");
    path.setAttribute("d", `M${from.join(" ")}L${to.join(" ")}`);
    path.setAttribute("class", "leader");
    this.lines.append(path);
  }

  knobAt(name, mark, taken) {
    let out;
    let away = KNOB_AWAY;
    if (name === "both") return mark;
    if (RIMS.includes(name)) {
      const { place } = this.nearest(this.pointOf(name));
      const t = this.tangent(place);
      out = [-t[1] * SIDE[name], t[0] * SIDE[name]];
      away += this.halfWidth(place) * this.scale;
    } else {
      const line = this.state.marks.edges[Number(name[5])];
      const t = unit(minus(line[1], line[0]));
      out = [-t[1], t[0]];
      if (dot(out, minus(this.pointOf(name), this.middle())) < 0) out = out.map((v) => -v);
      out = unit(plus(out, t, name[7] === "0" ? -0.6 : 0.6));
    }
    const bounds = [this.stage.clientWidth, this.stage.clientHeight];
    const inside = (p) => p.map((v, k) => Math.min(Math.max(v, 28), bounds[k] - 28));
    for (let i = 0; i < 4; i++) {
      const knob = inside(plus(mark, out, away));
      if (taken.every((other) => length(minus(other, knob)) > 54)) return knob;
      away += 56;
    }
    return inside(plus(mark, out, KNOB_AWAY));
  }

  place(name, knob) {
    let handle = this.handles.get(name);
    if (!handle) {
      handle = this.made(name);
      this.handles.set(name, handle);
      byId("mk-handles").append(handle);
    }
    handle.style.transform = `translate(${knob[0].toFixed(1)}px, ${knob[1].toFixed(1)}px)`;
    handle.classList.toggle("unset", !this.isSet(name));
    handle.classList.toggle("held", this.held === name);
    const point = this.pointOf(name);
    if (RIMS.includes(name)) {
      const all = this.measured.rail_mm;
      const seal = this.state.marks.seal ? this.mm(this.state.marks.seal) : all[0];
      const at = this.mm(point) - seal;
      handle.setAttribute("aria-valuemin", (all[0] - seal).toFixed(1));
      handle.setAttribute("aria-valuemax", (all[all.length - 1] - seal).toFixed(1));
      handle.setAttribute("aria-valuenow", at.toFixed(1));
      const where = name === "seal" ? "where the exposed shaft begins" : `${at.toFixed(1)} mm from the seal`;
      handle.setAttribute("aria-valuetext", this.isSet(name) ? where : "not set yet");
    } else {
      const range = this.size[0];
      handle.setAttribute("aria-valuemin", "0");
      handle.setAttribute("aria-valuemax", String(range));
      handle.setAttribute("aria-valuenow", Math.min(Math.max(point[0], 0), range).toFixed(0));
      handle.setAttribute("aria-valuetext", `${point[0].toFixed(0)} across, ${point[1].toFixed(0)} down, in pixels`);
    }
  }

  made(name) {
    const handle = document.createElement("div");
    handle.className = RIMS.includes(name) ? "mk-handle" : "mk-handle edge";
    handle.dataset.mark = name;
    handle.tabIndex = 0;
    handle.setAttribute("role", "slider");
    const ends = ["towards the seal", "towards the far end"];
    const words = RIMS.includes(name)
      ? NAME[name]
      : name === "both"
        ? "Both lines"
        : `${name[5] === "0" ? "First" : "Second"} edge, end ${ends[Number(name[7])]}`;
    handle.setAttribute("aria-label", words);
    handle.textContent = KNOB[name] || (name === "both" ? "Both" : "Edge");
    handle.addEventListener("pointerdown", (event) => this.drag(event, name, handle));
    handle.addEventListener("keydown", (event) => this.key(event, name));
    return handle;
  }

  drag(event, name, handle) {
    if (this.held) return;
    event.preventDefault();
    event.stopPropagation();
    handle.focus({ preventScroll: true });
    handle.setPointerCapture(event.pointerId);
    this.remember();
    this.held = name;
    let last = [event.clientX, event.clientY];
    let time = event.timeStamp;
    let point = this.pointOf(name);
    this.put(name, point);
    const corner = this.stage.getBoundingClientRect();
    this.loupe.hidden = false;
    const onLeft = event.clientX - corner.left < corner.width / 2;
    this.loupe.className = onLeft ? "right" : "left";
    const move = (next) => {
      if (next.pointerId !== event.pointerId) return;
      const by = minus([next.clientX, next.clientY], last);
      const speed = length(by) / Math.max(next.timeStamp - time, 1);
      const gain = speed < SLOW ? SLOW_GAIN : 1;
      [last, time] = [[next.clientX, next.clientY], next.timeStamp];
      point = plus(point, by, gain / this.scale);
      this.put(name, point);
    };
    const end = (lastOne) => {
      if (lastOne.pointerId !== event.pointerId) return;
      this.held = null;
      this.loupe.hidden = true;
      for (const [kind, action] of [["pointermove", move], ["pointerup", end], ["pointercancel", end]])
        handle.removeEventListener(kind, action);
      this.draw();
    };
    handle.addEventListener("pointermove", move);
    handle.addEventListener("pointerup", end);
    handle.addEventListener("pointercancel", end);
  }

  key(event, name) {
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    const leap = { PageUp: -10, PageDown: 10 }[event.key];
    const way = ways[event.key];
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      this.remember();
      this.put(name, this.pointOf(name));
      return;
    }
    if (!way && !leap) return;
    event.preventDefault();
    this.remember(name);
    const point = this.pointOf(name);
    const step = event.shiftKey ? 10 : 1;
    if (!RIMS.includes(name)) {
      if (way) this.put(name, plus(point, way, step));
      return;
    }
    const tangent = this.tangent(this.nearest(point).place);
    let along = leap || step * Math.sign(dot(way, tangent));
    // Keys that point across the shaft count as a slider's: right and up towards the far end.
    if (way && Math.abs(dot(way, tangent)) < 0.35) along = step * (way[0] || -way[1]);
    this.put(name, plus(point, tangent, along));
  }
}

if (box) start();

// <trace-view>: linked strips of one whole recording. The canvas paints; everything that can be
// touched or read aloud is an element. Times are seconds from the recording's start.
//
// Events: spanchange {id, kind, start_s, end_s} · notchchange {id, time_s} · spanopen {id, kind}
//         · rangechange · refined (the finer answer is painted)

import { beatAt, decodeBeats, decodeTraces, ratioOver } from "./trace-wire.js";
import { clock, paintRail, paintStrips } from "./trace-paint.js";

const LEFT = 52, RIGHT = 26, TOP = 58, FOOT = 22, GAP = 12, SHORTEST_S = 0.2, NUDGE_WAIT_MS = 350;
const SYMBOL = { usable: "●", "look again": "◐", repeat: "○", "left out": "×" };
const INK = ["pa", "pd", "temp", "shaft_temp", "ecg", "ratio", "other", "grid", "edge", "soft", "hatch", "glow", "fill"];

const make = (tag, cls, parent, attrs = {}) => {
  const el = document.createElement(tag);
  if (cls) el.className = cls;
  for (const [k, v] of Object.entries(attrs)) el.setAttribute(k, v);
  parent?.append(el);
  return el;
};

class TraceView extends HTMLElement {
  connectedCallback() {
    if (this.setUp) return;
    this.setUp = true;
    this.words = JSON.parse(this.dataset.words);
    this.plan = JSON.parse(this.dataset.plan);
    this.duration = this.plan.duration_s;
    this.range = [0, this.duration];
    this.spans = []; this.notches = []; this.damaged = []; this.highlights = [];
    this.parts = {}; this.whole = {}; this.beats = null; this.measure = null;
    this.#build();
    this.#ink();
    this.#fetch();
    this.refresh();
    this.#fetchBeats();
    new ResizeObserver(() => { if (this.plot.clientWidth !== this.wasWide || this.plot.clientHeight !== this.wasTall) { this.#size(); this.#fetch(); } }).observe(this.plot);
    new MutationObserver(() => { this.#ink(); this.draw(); }).observe(document.documentElement, { attributeFilter: ["data-theme"] });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => { this.#ink(); this.draw(); });
  }

  // -- what others may call --------------------------------------------------------------------

  async refresh() {
    const reply = await fetch(this.dataset.view);
    if (!reply.ok) throw new Error(`view ${reply.status}`);
    const view = await reply.json();
    this.spans = view.spans; this.notches = view.notches; this.damaged = view.damaged;
    this.#marks();
    this.draw();
  }

  zoom(a, b) {
    const wide = Math.min(this.duration, Math.max(SHORTEST_S, b - a));
    a = Math.max(0, Math.min(this.duration - wide, a));
    this.range = [a, a + wide];
    this.asked = performance.now();
    this.draw();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.#fetch(), 20);
    this.dispatchEvent(new CustomEvent("rangechange"));
  }

  scale(factor, centre = (this.range[0] + this.range[1]) / 2) {
    const [a, b] = this.range;
    this.zoom(centre - (centre - a) * factor, centre + (b - centre) * factor);
  }

  pan(share) { const w = this.range[1] - this.range[0]; this.zoom(this.range[0] + share * w, this.range[1] + share * w); }

  highlight(windows, look = false) {
    this.highlights = windows || [];
    if (look && this.highlights.length) {
      const a = Math.min(...this.highlights.map((w) => w[0])), b = Math.max(...this.highlights.map((w) => w[1]));
      const side = Math.max(2, (b - a) * 0.4);
      this.zoom(a - side, b + side);
    } else this.draw();
  }

  toggleMeasure() {
    if (this.measure) { this.measure = null; this.#marks(); this.draw(); this.plot.focus(); return; }
    const [a, b] = this.range, w = Math.min(10, (b - a) / 4), c = (a + b) / 2;
    this.measure = { id: "measure", kind: "measure", start_s: c - w / 2, end_s: c + w / 2 };
    this.#marks();
    this.draw();
    this.querySelector("[data-mark='measure'].tv-body")?.focus();
    this.#say();
  }

  focusMark(kind, by) {
    const all = [...this.querySelectorAll(kind === "injection" ? ".tv-notch" : ".tv-body")];
    if (!all.length) return;
    const now = all.indexOf(document.activeElement);
    const next = all[(now + by + all.length) % all.length] ?? all[0];
    const t = Number(next.dataset.at), [a, b] = this.range;
    if (t < a || t > b) this.zoom(t - (b - a) / 2, t + (b - a) / 2);
    next.focus();
  }

  // -- elements --------------------------------------------------------------------------------

  #build() {
    const w = this.words;
    this.plot = make("div", "tv-plot", this, { tabindex: "0", role: "group", "aria-label": w.plot, "aria-describedby": "tv-keys" });
    this.canvas = make("canvas", "", this.plot, { "aria-hidden": "true" });
    this.layer = make("div", "tv-layer", this.plot);
    this.cursor = make("div", "tv-cursor", this.plot, { "aria-hidden": "true", hidden: "" });
    make("span", "sr", this, { id: "tv-keys" }).textContent = w.plot_keys;
    for (const strip of this.plan.strips) strip.tag = make("span", "tv-name", this.plot), strip.tag.textContent = strip.label;
    this.rail = make("div", "tv-rail", this);
    this.railCanvas = make("canvas", "", this.rail, { "aria-hidden": "true" });
    this.windowEl = make("div", "tv-window", this.rail, { tabindex: "0", role: "slider", "aria-label": w.overview, "aria-valuemin": "0", "aria-valuemax": String(Math.round(this.duration)) });
    this.note = make("p", "tv-note", this, { role: "status", "aria-live": "polite" });
    this.note.textContent = w.loading;
    this.plot.addEventListener("wheel", (e) => this.#wheel(e), { passive: false });
    this.plot.addEventListener("pointerdown", (e) => this.#hold(e));
    this.plot.addEventListener("dblclick", (e) => { if (e.target === this.plot || e.target === this.canvas) this.scale(0.4, this.#time(e)); });
    this.plot.addEventListener("pointermove", (e) => this.#hover(e));
    this.plot.addEventListener("pointerleave", () => { this.cursor.hidden = true; });
    this.plot.addEventListener("keydown", (e) => this.#keys(e));
    this.windowEl.addEventListener("keydown", (e) => this.#keys(e));
    this.rail.addEventListener("pointerdown", (e) => this.#railHold(e));
    this.#size();
  }

  #size() {
    this.ratio = devicePixelRatio || 1;
    this.wasWide = this.plot.clientWidth; this.wasTall = this.plot.clientHeight;
    const fit = (canvas, box) => { canvas.width = Math.round(box.clientWidth * this.ratio); canvas.height = Math.round(box.clientHeight * this.ratio); };
    fit(this.canvas, this.plot); fit(this.railCanvas, this.rail);
    const space = this.plot.clientHeight - TOP - FOOT - GAP * (this.plan.strips.length - 1);
    const total = this.plan.strips.reduce((s, x) => s + x.weight, 0);
    let y = TOP;
    for (const strip of this.plan.strips) {
      strip.top = Math.round(y); strip.bottom = Math.round(y + (space * strip.weight) / total);
      y = strip.bottom + GAP;
      strip.tag.style.top = `${strip.top + 3}px`; strip.tag.style.left = `${LEFT + 6}px`;
    }
    this.draw();
  }

  #ink() {
    const css = getComputedStyle(this);
    this.ink = Object.fromEntries(INK.map((n) => [n, css.getPropertyValue(`--tv-${n.replace("_", "-")}`).trim()]));
    this.font = `${Math.max(12, Math.round(0.72 * parseFloat(getComputedStyle(document.documentElement).fontSize)))}px ${css.fontFamily}`;
  }

  #marks() {
    const focus = document.activeElement?.closest?.("trace-view") === this ? document.activeElement.id : "";
    this.layer.replaceChildren();
    for (const s of [...this.spans, ...(this.measure ? [this.measure] : [])]) this.#span(s);
    for (const n of this.notches) this.#notch(n);
    if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
  }

  #slider(cls, id, label, at) {
    return make("div", cls, this.layer, { id, role: "slider", tabindex: "0", "aria-label": label, "aria-valuemin": "0", "aria-valuemax": String(Math.ceil(this.duration)), "data-at": at });
  }

  #span(s) {
    const w = this.words, name = w.kinds[s.kind] ?? s.kind, key = `tv-${CSS.escape(s.id).replace(/[^\w-]/g, "_")}`;
    s.el = { tint: make("div", `tv-tint k-${s.kind}`, this.layer) };
    s.el.body = this.#slider(`tv-body k-${s.kind}`, key, `${name}${s.source === "marked" ? `, ${w.marked}` : ""}`, s.start_s);
    s.el.body.dataset.mark = s.id;
    make("span", "tv-tag", s.el.body).textContent = w.tags[s.kind] ?? name;
    s.el.start = this.#slider(`tv-grip at-start k-${s.kind}`, `${key}-start`, `${name}: ${w.start}`, s.start_s);
    s.el.end = this.#slider(`tv-grip k-${s.kind}`, `${key}-end`, `${name}: ${w.end}`, s.end_s);
    const mover = (part) => (o, dt) => {
      const fit = (t) => Math.max(0, Math.min(this.duration, t));
      if (part === "body") dt = Math.max(-o.start_s, Math.min(this.duration - o.end_s, dt));
      if (part !== "end") s.start_s = Math.min(fit(o.start_s + dt), part === "start" ? s.end_s - 0.1 : Infinity);
      if (part !== "start") s.end_s = Math.max(fit(o.end_s + dt), part === "end" ? s.start_s + 0.1 : -Infinity);
      this.#place(); if (s === this.measure) this.#say();
    };
    const done = () => { if (s.kind !== "measure") this.dispatchEvent(new CustomEvent("spanchange", { detail: { id: s.id, kind: s.kind, start_s: s.start_s, end_s: s.end_s } })); };
    for (const part of ["body", "start", "end"]) this.#movable(s.el[part], s, mover(part), done);
    s.el.body.addEventListener("dblclick", () => this.#open(s));
  }

  #notch(n) {
    const w = this.words, key = `tv-${n.id.replace(/[^\w-]/g, "_")}`;
    n.el = this.#slider(`tv-notch v-${n.verdict.replace(" ", "-")} p-${n.phase}`, key, `${w.injection} ${n.label}, ${w.verdicts[n.verdict]}`, n.time_s);
    n.el.dataset.mark = n.id;
    n.el.textContent = `${n.label} ${SYMBOL[n.verdict]}`;
    this.#movable(n.el, n, (o, dt) => { n.time_s = Math.max(0, Math.min(this.duration, o.time_s + dt)); this.#place(); },
      () => this.dispatchEvent(new CustomEvent("notchchange", { detail: { id: n.id, time_s: n.time_s } })));
    n.el.addEventListener("click", () => this.#open({ id: n.id, kind: "injection" }));
  }

  #open(s) { this.dispatchEvent(new CustomEvent("spanopen", { detail: { id: s.id, kind: s.kind } })); }

  #movable(el, item, move, done) {
    el.addEventListener("pointerdown", (e) => {
      if (e.button) return;
      e.stopPropagation(); e.preventDefault(); el.focus(); el.setPointerCapture(e.pointerId);
      const origin = { ...item }, x = e.clientX, k = (this.range[1] - this.range[0]) / this.#wide();
      let moved = false;
      el.onpointermove = (m) => { if (moved || Math.abs(m.clientX - x) > 2) { moved = true; el.classList.add("held"); move(origin, (m.clientX - x) * k); } };
      el.onpointerup = el.onpointercancel = (u) => {
        el.onpointermove = el.onpointerup = el.onpointercancel = null; el.classList.remove("held");
        if (moved && u.type === "pointercancel") { Object.assign(item, { start_s: origin.start_s, end_s: origin.end_s, time_s: origin.time_s }); this.#place(); }
        else if (moved) { el.addEventListener("click", (c) => c.stopImmediatePropagation(), { once: true, capture: true }); done(); }
      };
    });
    el.addEventListener("keydown", (e) => {
      if (e.key === "Enter" || e.key === " ") { e.preventDefault(); e.stopPropagation(); this.#open({ id: item.id, kind: item.kind ?? "injection" }); return; }
      if (e.key === "Delete" || e.key === "Backspace") { e.preventDefault(); e.stopPropagation(); this.dispatchEvent(new CustomEvent("markremove", { detail: { id: item.id, source: item.source } })); return; }
      const way = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
      if (!way || e.altKey || e.ctrlKey || e.metaKey) return;
      e.preventDefault(); e.stopPropagation();
      move({ ...item }, way * (e.shiftKey ? 10 : 1) * Math.max(0.01, (this.range[1] - this.range[0]) / 500));
      clearTimeout(this.nudge);
      this.nudge = setTimeout(done, NUDGE_WAIT_MS);
    });
  }

  // -- pointer, wheel, keys ----------------------------------------------------------------------

  #wide() { return Math.max(1, this.plot.clientWidth - LEFT - RIGHT); }
  #time(e) { const x = e.clientX - this.plot.getBoundingClientRect().left - LEFT; return this.range[0] + (x / this.#wide()) * (this.range[1] - this.range[0]); }

  #wheel(e) {
    e.preventDefault();
    const [a, b] = this.range;
    if (e.shiftKey || Math.abs(e.deltaX) > Math.abs(e.deltaY)) { const d = ((e.deltaX || e.deltaY) / this.#wide()) * (b - a); this.zoom(a + d, b + d); }
    else this.scale(1.0015 ** e.deltaY, this.#time(e));
  }

  #hold(e) {
    if (e.button || (e.target !== this.plot && e.target !== this.canvas && e.target !== this.layer)) return;
    this.plot.setPointerCapture(e.pointerId);
    this.fingers ??= new Map();
    this.fingers.set(e.pointerId, e.clientX);
    let [a, b] = this.range, x = e.clientX, spread = 0;
    this.plot.classList.add("held");
    const move = (m) => {
      if (!this.fingers.has(m.pointerId)) return;
      this.fingers.set(m.pointerId, m.clientX);
      const xs = [...this.fingers.values()];
      if (xs.length === 2) {
        const now = Math.abs(xs[0] - xs[1]);
        if (spread) this.scale(spread / Math.max(8, now));
        spread = now; [a, b] = this.range; x = m.clientX;
      } else { spread = 0; const d = ((m.clientX - x) / this.#wide()) * (b - a); this.zoom(a - d, b - d); }
    };
    const up = (u) => {
      this.fingers.delete(u.pointerId);
      if (u.pointerId !== e.pointerId) { [a, b] = this.range; x = [...this.fingers.values()][0] ?? x; return; }
      this.plot.removeEventListener("pointermove", move); this.plot.removeEventListener("pointerup", up); this.plot.removeEventListener("pointercancel", up);
      this.plot.classList.remove("held");
    };
    this.plot.addEventListener("pointermove", move); this.plot.addEventListener("pointerup", up); this.plot.addEventListener("pointercancel", up);
  }

  #railHold(e) {
    if (e.button) return;
    e.preventDefault();
    this.rail.setPointerCapture(e.pointerId);
    const box = this.rail.getBoundingClientRect(), k = this.duration / Math.max(1, this.rail.clientWidth - LEFT - RIGHT);
    const at = (m) => (m.clientX - box.left - LEFT) * k, [a, b] = this.range;
    const grip = e.target === this.windowEl ? at(e) - a : (b - a) / 2;
    const move = (m) => this.zoom(at(m) - grip, at(m) - grip + (b - a));
    move(e);
    this.rail.onpointermove = move;
    this.rail.onpointerup = this.rail.onpointercancel = () => { this.rail.onpointermove = null; };
  }

  #keys(e) {
    if (e.ctrlKey || e.metaKey || e.altKey) return;
    const far = e.shiftKey ? 0.9 : 0.15;
    const act = {
      ArrowLeft: () => this.pan(-far), ArrowRight: () => this.pan(far), ArrowUp: () => this.scale(0.7), ArrowDown: () => this.scale(1 / 0.7),
      "+": () => this.scale(0.7), "=": () => this.scale(0.7), "-": () => this.scale(1 / 0.7), 0: () => this.zoom(0, this.duration),
      Home: () => this.zoom(0, this.range[1] - this.range[0]), End: () => this.zoom(this.duration, this.duration + this.range[1] - this.range[0]),
    }[e.key];
    if (act) { e.preventDefault(); e.stopPropagation(); act(); }
  }

  #hover(e) {
    if (e.pointerType === "touch") return;
    const x = e.clientX - this.plot.getBoundingClientRect().left;
    this.cursor.hidden = x < LEFT || x > this.plot.clientWidth - RIGHT;
    this.cursor.style.transform = `translateX(${Math.round(x)}px)`;
    if (!this.measure && !this.cursor.hidden) this.#say(this.#time(e));
  }

  // -- answers from the server -------------------------------------------------------------------

  async #fetch() {
    const asked = this.asked ?? performance.now(), [a, b] = this.range, side = (b - a) * 0.25;
    const n = Math.max(200, Math.round(this.#wide() * 1.5 * Math.min(2, this.ratio)));
    this.abort?.abort();
    this.abort = new AbortController();
    try {
      const first = this.dataset.first && a <= 0 && b >= this.duration;
      const url = first ? this.dataset.first : `${this.dataset.src}?t0=${a - side}&t1=${b + side}&n=${n}`;
      delete this.dataset.first;
      const reply = await fetch(url, { signal: this.abort.signal });
      if (!reply.ok) { this.note.textContent = this.words.failed; return; }
      const parts = decodeTraces(await reply.arrayBuffer());
      this.parts = Object.fromEntries(this.plan.channels.map((name, k) => [name, parts[k]]));
      if (!Object.keys(this.whole).length && a <= 0) { this.whole = this.parts; this.note.textContent = ""; }
      this.fresh = asked;
      this.draw();
      if (first && this.#wide() * this.ratio > 1300) setTimeout(() => this.#fetch(), 300);
    } catch (fault) { if (fault.name !== "AbortError") this.note.textContent = this.words.failed; }
  }

  async #fetchBeats() {
    const reply = await fetch(this.dataset.beats);
    if (reply.ok) { this.beats = decodeBeats(await reply.arrayBuffer()); this.draw(); }
  }

  // -- painting ----------------------------------------------------------------------------------

  draw() { this.frame ||= requestAnimationFrame(() => { this.frame = 0; this.#paint(); this.#place(); }); }

  #paint() {
    const g = this.canvas.getContext("2d"), r = this.ratio;
    g.setTransform(r, 0, 0, r, 0, 0);
    paintStrips(g, {
      width: this.plot.clientWidth, height: this.plot.clientHeight, left: LEFT, right: RIGHT, bottom: this.plot.clientHeight - FOOT,
      range: this.range, strips: this.plan.strips, parts: this.parts, beats: this.beats,
      firstBeat: this.beats ? beatAt(this.beats, this.range[0]) : 0, damaged: this.damaged, highlights: this.highlights,
      ink: this.ink, font: this.font, letters: this.plan.letters,
    });
    const rail = this.railCanvas.getContext("2d");
    if (this.railDrawn !== this.whole || this.railInk !== this.ink || this.railWide !== this.railCanvas.width) {
      rail.setTransform(r, 0, 0, r, 0, 0);
      paintRail(rail, { width: this.rail.clientWidth, height: this.rail.clientHeight, left: LEFT, right: RIGHT, duration: this.duration, parts: this.whole, railChannel: this.plan.rail, railLimits: this.plan.rail_limits, ink: this.ink });
      this.railDrawn = this.whole; this.railInk = this.ink; this.railWide = this.railCanvas.width;
    }
    if (this.fresh !== undefined && Object.keys(this.parts).length) {
      const took = performance.now() - this.fresh;
      this.fresh = undefined;
      if (!this.dataset.painted) { this.dataset.painted = "1"; performance.mark("trace-first-paint"); }
      this.dispatchEvent(new CustomEvent("refined", { detail: { took_ms: took } }));
    }
  }

  #place() {
    const [a, b] = this.range, k = this.#wide() / (b - a), X = (t) => LEFT + (t - a) * k, end = LEFT + this.#wide();
    const put = (el, x, w, on) => { el.hidden = !on; if (on) { el.style.transform = `translateX(${x.toFixed(1)}px)`; if (w !== undefined) el.style.width = `${Math.max(1, w).toFixed(1)}px`; } };
    const read = (el, t, text) => { el.setAttribute("aria-valuenow", t.toFixed(2)); el.setAttribute("aria-valuetext", text); el.dataset.at = t; };
    for (const s of [...this.spans, ...(this.measure ? [this.measure] : [])]) {
      const x0 = Math.max(LEFT, X(s.start_s)), x1 = Math.min(end, X(s.end_s)), on = x1 >= LEFT && x0 <= end;
      put(s.el.tint, x0, x1 - x0, on); put(s.el.body, x0, x1 - x0, on);
      put(s.el.start, x0 - 23, undefined, on && s.start_s >= a); put(s.el.end, x1 - 1, undefined, on && s.end_s <= b);
      const text = `${s.start_s.toFixed(1)}–${s.end_s.toFixed(1)} s`;
      read(s.el.body, s.start_s, text); read(s.el.start, s.start_s, text); read(s.el.end, s.end_s, text);
    }
    for (const n of this.notches) { const x = X(n.time_s); put(n.el, x, undefined, x >= LEFT && x <= end); read(n.el, n.time_s, `${n.time_s.toFixed(2)} s`); }
    const rk = (this.rail.clientWidth - LEFT - RIGHT) / this.duration;
    this.windowEl.style.transform = `translateX(${LEFT + a * rk}px)`; this.windowEl.style.width = `${Math.max(6, (b - a) * rk)}px`;
    read(this.windowEl, a, `${clock(a, 1)}–${clock(b, 1)}`);
  }

  #say(t) {
    const w = this.words;
    if (this.measure) {
      const m = this.measure, got = this.beats && ratioOver(this.beats, m.start_s, m.end_s);
      this.note.textContent = got
        ? `${w.window} ${m.start_s.toFixed(1)}–${m.end_s.toFixed(1)} s: Pd/Pa ${got.ratio.toFixed(3)}, Pa ${got.pa.toFixed(1)}, Pd ${got.pd.toFixed(1)} mmHg, ${got.beats} ${w.beats}`
        : `${w.window} ${m.start_s.toFixed(1)}–${m.end_s.toFixed(1)} s: ${w.no_beats}`;
      this.dispatchEvent(new CustomEvent("measured", { detail: { ...m } }));
    } else if (t !== undefined) {
      this.note.textContent = `${t.toFixed(2)} s`;
      const i = this.beats ? beatAt(this.beats, t) - 1 : -1;
      if (i >= 0 && this.beats.end[i] >= t && this.beats.usable[i]) this.note.textContent += ` · Pd/Pa ${(this.beats.pd[i] / this.beats.pa[i]).toFixed(2)} · Pa ${this.beats.pa[i].toFixed(0)} · Pd ${this.beats.pd[i].toFixed(0)} mmHg`;
    }
  }
}

customElements.define("trace-view", TraceView);

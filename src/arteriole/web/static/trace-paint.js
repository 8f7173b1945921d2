// Arrays to strokes. Knows nothing of pages, marks or the server.

const STEPS = [0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800];
const BEATS_SHOWN_BELOW_S = 30;
const FAINT_BELOW_PX_PER_S = 9;

export const clock = (s, step) => {
  const m = Math.floor(s / 60 + 1e-9), rest = s - 60 * m;
  return `${m}:${step < 1 ? rest.toFixed(step < 0.1 ? 2 : 1).padStart(step < 0.1 ? 5 : 4, "0") : String(Math.round(rest)).padStart(2, "0")}`;
};

const valueStep = (span, most) => {
  const raw = span / most, p = 10 ** Math.floor(Math.log10(raw));
  return p * [1, 2, 5, 10].find((k) => k * p >= raw);
};

// One vertical bar per pixel column; every sample of the column is inside its bar. Bars are filled
// rectangles: with software rendering several times faster than one long stroked path.
function trace(g, part, x0, k, Y, box, thick) {
  const { t0, dt, y, pairs } = part;
  const step = pairs ? dt / 2 : dt;
  const first = Math.max(0, Math.floor((box.a - t0) / step) - 2);
  const last = Math.min(y.length, Math.ceil((box.b - t0) / step) + 3);
  if (step * k > 0.5 && !pairs) {
    let pen = false;
    g.lineWidth = thick;
    g.beginPath();
    for (let i = first; i < last; i++) {
      const v = y[i];
      if (v !== v) { pen = false; continue; }
      const x = x0 + (t0 + i * step) * k;
      if (pen) g.lineTo(x, Y(v)); else { g.moveTo(x, Y(v)); g.lineTo(x + 0.1, Y(v)); }
      pen = true;
    }
    g.stroke();
    return;
  }
  const jump = pairs ? 2 : 1, origin = x0 + (pairs ? t0 + dt / 2 : t0) * k, stride = dt * k;
  const wide = pairs ? Math.max(thick, Math.ceil(stride)) : thick;
  let before = NaN;
  for (let i = pairs ? first & ~1 : first; i < last;) {
    const px = Math.floor(origin + (i / jump) * stride);
    let lo = Infinity, hi = -Infinity, end = NaN;
    while (i < last && Math.floor(origin + (i / jump) * stride) === px) {
      for (let j = 0; j < jump; j++) {
        const v = y[i++];
        if (v !== v) continue;
        end = v;
        if (v < lo) lo = v;
        if (v > hi) hi = v;
      }
    }
    if (end !== end) { before = NaN; continue; }
    const top = Y(before > hi ? before : hi), low = Y(before < lo ? before : lo);
    g.fillRect(px, top, wide, Math.max(thick, low - top));
    before = pairs ? (lo + hi) / 2 : end;
  }
}

// Values beyond the axis are drawn to its edge and flagged there: nothing is hidden.
function beyond(g, part, x0, k, strip, box) {
  const { t0, dt, y, pairs } = part, step = pairs ? dt / 2 : dt;
  const first = Math.max(0, Math.floor((box.a - t0) / step)), last = Math.min(y.length, Math.ceil((box.b - t0) / step) + 1);
  let seen = -9;
  for (let i = first; i < last; i++) {
    const up = y[i] > strip.hi, down = y[i] < strip.lo;
    if (!up && !down) continue;
    const x = Math.round(x0 + (t0 + i * step) * k);
    if (x - seen < 5) continue;
    seen = x;
    const edge = up ? strip.top + 1 : strip.bottom - 1, d = up ? 5 : -5;
    g.moveTo(x - 3, edge + d); g.lineTo(x, edge); g.lineTo(x + 3, edge + d);
  }
}

function hatch(g, x, y, w, h) {
  g.save();
  g.beginPath(); g.rect(x, y, w, h); g.clip();
  g.beginPath();
  for (let s = Math.floor((x - h) / 7) * 7; s < x + w; s += 7) { g.moveTo(s, y + h); g.lineTo(s + h, y); }
  g.stroke();
  g.restore();
}

// Far out, where beats melt into a band, the means of usable beats are drawn over it.
function meanLine(g, beats, mean, from, X, Y, b) {
  let pen = false, seen = -9;
  for (let i = from; i < beats.n && beats.start[i] < b; i++) {
    if (!beats.usable[i] || !(mean[i] > 0)) { pen = false; continue; }
    const x = X((beats.start[i] + beats.end[i]) / 2);
    if (pen && x - seen < 0.5) continue;
    if (pen) g.lineTo(x, Y(mean[i])); else g.moveTo(x, Y(mean[i]));
    pen = true; seen = x;
  }
}

function ratioSteps(g, beats, from, X, Y, b) {
  let pen = false;
  for (let i = from; i < beats.n && beats.start[i] < b; i++) {
    const r = beats.pd[i] / beats.pa[i];
    if (!beats.usable[i] || !(r > 0)) { pen = false; continue; }
    const x = X(beats.start[i]), y = Y(r);
    if (pen) g.lineTo(x, y); else g.moveTo(x, y);
    g.lineTo(X(beats.end[i]), y);
    pen = true;
  }
}

export function paintStrips(g, s) {
  const { width, height, range: [a, b], ink } = s;
  const left = s.left, right = width - s.right, k = (right - left) / (b - a), x0 = left - a * k;
  const X = (t) => x0 + t * k;
  g.clearRect(0, 0, width, height);
  g.font = s.font;
  g.lineJoin = "bevel";
  const step = STEPS.find((q) => q * k >= 74) || 3600;
  for (const strip of s.strips) {
    const { top, bottom, lo, hi } = strip;
    const scale = (bottom - top) / (hi - lo);
    const Y = (v) => Math.max(top, Math.min(bottom, bottom - (v - lo) * scale));
    g.save();
    g.beginPath(); g.rect(left, top - 1, right - left, bottom - top + 2); g.clip();
    g.strokeStyle = ink.grid; g.lineWidth = 1;
    g.beginPath();
    for (let t = Math.ceil(a / step) * step; t <= b; t += step) { const x = Math.round(X(t)) + 0.5; g.moveTo(x, top); g.lineTo(x, bottom); }
    const vs = valueStep(hi - lo, Math.max(2, (bottom - top) / 26));
    for (let v = Math.ceil(lo / vs - 1e-9) * vs; v <= hi + 1e-9; v += vs) { const y = Math.round(Y(v)) + 0.5; g.moveTo(left, y); g.lineTo(right, y); }
    g.stroke();
    for (const w of s.highlights) {
      g.fillStyle = ink.glow; g.fillRect(X(w[0]), top, Math.max(2, X(w[1]) - X(w[0])), bottom - top);
    }
    g.strokeStyle = ink.hatch;
    for (const d of s.damaged) {
      if (d.end_s < a || d.start_s > b || (d.channel && !strip.channels.includes(d.channel))) continue;
      const x = Math.max(left, X(d.start_s)), w = Math.max(3, Math.min(right, X(d.end_s)) - x);
      hatch(g, x, top, w, bottom - top);
    }
    if (strip.kind === "ratio" && s.beats) {
      g.strokeStyle = ink.ratio; g.lineWidth = 1.5;
      g.beginPath();
      ratioSteps(g, s.beats, Math.max(0, s.firstBeat - 1), X, Y, b);
      g.stroke();
    }
    for (const name of strip.channels) {
      const part = s.parts[name];
      if (!part) continue;
      const colour = ink[name] || ink.other;
      const means = strip.kind === "pressure" && s.beats && k < FAINT_BELOW_PX_PER_S;
      if (strip.kind === "temperature" && Number.isFinite(strip.baseline)) {
        const y = Y(strip.baseline);
        g.save();
        g.beginPath(); g.rect(left, y, right - left, bottom - y); g.clip();
        g.fillStyle = ink.fill;
        g.beginPath(); area(g, part, x0, k, Y, { a, b }, y); g.fill();
        g.restore();
      }
      g.strokeStyle = g.fillStyle = colour;
      g.globalAlpha = means ? 0.26 : 1;
      trace(g, part, x0, k, Y, { a, b }, means ? 1 : name === "pa" ? 2 : 1.2);
      g.globalAlpha = 1;
      g.lineWidth = 1.5; g.beginPath(); beyond(g, part, x0, k, strip, { a, b }); g.stroke();
    }
    if (strip.kind === "pressure" && s.beats && k < FAINT_BELOW_PX_PER_S) {
      for (const name of strip.channels) {
        g.strokeStyle = ink[name]; g.lineWidth = name === "pa" ? 2.4 : 1.8;
        g.beginPath(); meanLine(g, s.beats, s.beats[name], Math.max(0, s.firstBeat - 1), X, Y, b); g.stroke();
      }
    }
    if (strip.kind === "pressure" && s.beats && b - a <= BEATS_SHOWN_BELOW_S) {
      for (let i = Math.max(0, s.firstBeat - 1); i < s.beats.n && s.beats.start[i] < b; i++) {
        const x = Math.round(X(s.beats.start[i])) + 0.5;
        g.strokeStyle = s.beats.usable[i] ? ink.soft : ink.hatch;
        g.lineWidth = 1; g.beginPath();
        g.moveTo(x, bottom - 9); g.lineTo(x, bottom);
        if (!s.beats.usable[i]) { g.moveTo(x - 3, bottom - 14); g.lineTo(x + 3, bottom - 8); g.moveTo(x + 3, bottom - 14); g.lineTo(x - 3, bottom - 8); }
        g.stroke();
      }
    }
    g.restore();
    g.fillStyle = ink.soft; g.textAlign = "right"; g.textBaseline = "middle";
    const digits = vs < 0.1 ? 2 : vs < 1 ? 1 : 0;
    for (let v = Math.ceil(lo / vs - 1e-9) * vs; v <= hi + 1e-9; v += vs) {
      const y = Y(v);
      if (y > top + 6 && y < bottom - 3) g.fillText(v.toFixed(digits), left - 6, y);
    }
    g.strokeStyle = ink.edge; g.lineWidth = 1; g.strokeRect(left + 0.5, top + 0.5, right - left - 1, bottom - top - 1);
    letters(g, s, strip, Y, right, b);
  }
  g.fillStyle = ink.soft; g.textAlign = "center"; g.textBaseline = "top";
  for (let t = Math.ceil(a / step - 1e-9) * step; t <= b + 1e-9; t += step) {
    const x = X(t);
    if (x > left + 8 && x < right - 12) g.fillText(clock(t, step), x, s.bottom + 4);
  }
}

// The channel's letter at the end of its line, pushed apart when two would meet.
function letters(g, s, strip, Y, right, b) {
  g.textAlign = "left"; g.textBaseline = "middle";
  let used = [];
  for (const name of strip.channels) {
    const part = s.parts[name];
    if (!part || !s.letters[name]) continue;
    const step = part.pairs ? part.dt / 2 : part.dt;
    const end = Math.min(part.y.length - 1, Math.floor((b - part.t0) / step));
    let sum = 0, n = 0;
    for (let i = Math.max(0, end - 60); i <= end; i++) if (part.y[i] === part.y[i]) { sum += part.y[i]; n += 1; }
    if (!n) continue;
    let y = Y(sum / n);
    if (used.some((u) => Math.abs(u - y) < 15)) y += y < used[0] ? -15 : 15;
    used.push(y);
    g.fillStyle = s.ink[name] || s.ink.other;
    g.fillText(s.letters[name], right + 7, Math.min(strip.bottom - 7, y));
  }
}

function area(g, part, x0, k, Y, box, edge) {
  const { t0, dt, y, pairs } = part, jump = pairs ? 2 : 1;
  const n = pairs ? y.length / 2 : y.length, shift = pairs ? dt / 2 : 0;
  const first = Math.max(0, Math.floor((box.a - t0) / dt) - 1), last = Math.min(n, Math.ceil((box.b - t0) / dt) + 2);
  let open = false, x = 0;
  for (let i = first; i < last; i++) {
    const v = y[i * jump];
    x = x0 + (t0 + shift + i * dt) * k;
    if (v !== v) { if (open) { g.lineTo(x, edge); open = false; } continue; }
    if (!open) { g.moveTo(x, edge); open = true; }
    g.lineTo(x, Y(v));
  }
  if (open) g.lineTo(x, edge);
}

export function paintRail(g, s) {
  const { width, height, ink } = s;
  g.clearRect(0, 0, width, height);
  const part = s.parts[s.railChannel];
  if (!part) return;
  const k = (width - s.left - s.right) / s.duration;
  const [lo, hi] = s.railLimits;
  const Y = (v) => Math.max(1, Math.min(height - 1, height - 1 - ((v - lo) / (hi - lo)) * (height - 2)));
  g.strokeStyle = g.fillStyle = ink.soft;
  trace(g, part, s.left, k, Y, { a: 0, b: s.duration }, 1);
}

// What the server sends, as views on the reply's own bytes (nothing is copied).
//
// /traces  u32 channels, u32 0 | per channel: f64 first time, f64 step, u32 values, u32 pairs? |
//          f32 values. "pairs": lowest and highest of each bin in turn, exact, NaN = all lost.
// /beats   u32 beats, u32 0 | f64 start[] | f64 end[] | f32 Pa[] | f32 Pd[] | u8 usable[]

export function decodeTraces(buffer) {
  const count = new Uint32Array(buffer, 0, 1)[0];
  const head = new DataView(buffer, 8, 24 * count);
  let offset = 8 + 24 * count;
  return Array.from({ length: count }, (_, k) => {
    const at = 24 * k;
    const size = head.getUint32(at + 16, true);
    const one = {
      t0: head.getFloat64(at, true),
      dt: head.getFloat64(at + 8, true),
      pairs: head.getUint32(at + 20, true) === 1,
      y: new Float32Array(buffer, offset, size),
    };
    offset += 4 * size;
    return one;
  });
}

export function decodeBeats(buffer) {
  const n = new Uint32Array(buffer, 0, 1)[0];
  return {
    n,
    start: new Float64Array(buffer, 8, n),
    end: new Float64Array(buffer, 8 + 8 * n, n),
    pa: new Float32Array(buffer, 8 + 16 * n, n),
    pd: new Float32Array(buffer, 8 + 20 * n, n),
    usable: new Uint8Array(buffer, 8 + 24 * n, n),
  };
}

// Index of the first beat that starts at or after t.
export function beatAt(beats, t) {
  let lo = 0, hi = beats.n;
  while (lo < hi) { const mid = (lo + hi) >> 1; if (beats.start[mid] < t) lo = mid + 1; else hi = mid; }
  return lo;
}

// Means over whole usable beats inside the window, weighted by beat length, and their ratio.
export function ratioOver(beats, t0, t1) {
  let time = 0, pa = 0, pd = 0, count = 0;
  for (let i = beatAt(beats, t0); i < beats.n && beats.end[i] <= t1; i++) {
    if (!beats.usable[i] || Number.isNaN(beats.pa[i]) || Number.isNaN(beats.pd[i])) continue;
    const w = beats.end[i] - beats.start[i];
    time += w; pa += w * beats.pa[i]; pd += w * beats.pd[i]; count += 1;
  }
  return count ? { pa: pa / time, pd: pd / time, ratio: pd / pa, beats: count } : null;
}

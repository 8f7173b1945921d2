// The Bench: marks and fields become edits; after each the parts of the page are drawn anew.

import "./trace-view.js";
import { acts, api, reach, say, send, study } from "./page.js";

const view = document.getElementById("traces"), parts = document.getElementById("parts");
const working = document.getElementById("working"), reason = document.getElementById("reason");
const $ = (id) => document.getElementById(id);
let lastWhy = "";

// A text field that is being typed in: its words are nowhere but on this page.
const typed = (field) => field?.matches?.("input, textarea") && "defaultValue" in field && field.value !== field.defaultValue;

// Put fresh children in the place of the old ones, but leave the branch that leads to `held`.
function swap(old, fresh, held, twin) {
  const branch = [...old.children].find((c) => c.contains(held)), like = [...fresh.children].find((c) => c.contains(twin));
  for (const c of [...old.childNodes]) if (c !== branch) c.remove();
  let before = true;
  for (const c of [...fresh.childNodes]) {
    if (c === like) before = false;
    else if (before) branch.before(c);
    else old.append(c);
  }
  if (branch !== held) swap(branch, like, held, twin);
}

// Swap what the server drew, keeping focus, open folds and half-typed words where they were.
async function redraw() {
  const reply = await fetch(`/studies/${study}/parts`);
  if (!reply.ok) throw new Error(`parts ${reply.status}`);
  const fresh = document.createElement("template");
  fresh.innerHTML = await reply.text();
  const focus = document.activeElement, id = focus?.id, inside = parts.contains(focus);
  const open = [...parts.querySelectorAll("details[open]")].map((d) => d.id);
  const twin = inside && id && typed(focus) ? fresh.content.getElementById(id) : null;
  if (twin) swap(parts, fresh.content, focus, twin); else parts.replaceChildren(fresh.content);
  reach();
  for (const d of open) if ($(d)) $(d).open = true;
  if (inside && id) $(id)?.focus({ preventScroll: true });
  if (working.open) await openWorking(working.dataset.key, false);
}

// The edit is kept, but what this page shows is older than it: that must stand there until a reload.
function stale() {
  say(document.body.dataset.ours);
  if ($("stale")) return;
  const note = document.createElement("p");
  Object.assign(note, { id: "stale", className: "stale", textContent: document.body.dataset.stale });
  note.setAttribute("role", "status");
  parts.before(note);
}

// Edits go one after the other; one that fails must not hold up those behind it.
let queue = Promise.resolve();
function change(url, body) {
  const started = performance.now();
  queue = queue.then(async () => {
    const why = $("why")?.value ?? "";
    const answer = await send("POST", url, { why, ...body });
    try {
      await Promise.all([redraw(), view.refresh()]);
      $("stale")?.remove();
    } catch { stale(); }
    if (answer) {
      lastWhy = why;
      parts.dataset.settled = String(Number(parts.dataset.settled ?? 0) + 1);
      view.dispatchEvent(new CustomEvent("settled", { detail: { took_ms: performance.now() - started, pattern: answer.pattern } }));
    }
    return answer;
  });
  return queue;
}
const edit = (value, why) => change(`${api}/edits`, why === undefined ? { edit: value } : { edit: value, why });

// -- marks ---------------------------------------------------------------------------------------

const round = (t, d = 3) => Number(t.toFixed(d));
view.addEventListener("spanchange", ({ detail: s }) => edit({ kind: "MarkSet", id: s.id, mark: { kind: s.kind, start_s: round(s.start_s), end_s: round(s.end_s) } }));
view.addEventListener("notchchange", ({ detail: n }) => edit({ kind: "MarkSet", id: n.id, mark: { kind: "injection", time_s: round(n.time_s) } }));
view.addEventListener("markremove", ({ detail: m }) => { if (m.source === "marked") edit({ kind: "MarkRemoved", id: m.id }); });
view.addEventListener("spanopen", ({ detail: s }) => {
  const card = s.kind === "injection" ? cardAt(s.id) : null;
  if (card) { card.scrollIntoView({ block: "nearest" }); card.querySelector("button")?.focus(); choose(card.dataset.id); }
});
view.addEventListener("measured", () => $("measure").setAttribute("aria-pressed", String(Boolean(view.measure))));

const cardAt = (id) => {
  const notch = view.notches.find((n) => n.id === id);
  return [...parts.querySelectorAll(".injection")].find((c) => c.dataset.id === id || (notch && c.getAttribute("aria-label") === notch.label));
};

function choose(id) {
  for (const g of parts.querySelectorAll(".curves g.curve")) g.classList.toggle("chosen", g.dataset.id === id);
}

async function leaveOrBring(button) {
  const bring = button.dataset.act === "bring-back", title = $("reason-title");
  title.textContent = (bring ? title.dataset.bring : title.dataset.leave).replace("{label}", button.dataset.label);
  $("reason-text").value = bring ? "" : lastWhy;
  reason.returnValue = "";
  reason.showModal();
  await new Promise((done) => reason.addEventListener("close", done, { once: true }));
  button.focus();
  if (reason.returnValue !== "ok") return;
  const card = button.closest(".injection"), notch = view.notches.find((n) => n.label === button.dataset.label);
  const why = $("reason-text").value.trim();
  await edit({ kind: "MarkSet", id: notch?.id ?? card.dataset.id, mark: { kind: "injection", time_s: notch?.time_s ?? Number(card.dataset.id.split("@")[1]), verdict: bring ? "usable" : "left out", why } }, why);
}

acts["leave-out"] = () => {
  const label = document.activeElement?.closest(".tv-notch") ? view.notches.find((n) => n.el === document.activeElement)?.label : null;
  const card = label ? [...parts.querySelectorAll(".injection")].find((c) => c.getAttribute("aria-label") === label) : document.activeElement?.closest(".injection");
  const button = card?.querySelector("[data-injection]");
  if (button) leaveOrBring(button); else view.focusMark("injection", 1);
};
acts["next-injection"] = () => view.focusMark("injection", 1);
acts["previous-injection"] = () => view.focusMark("injection", -1);
acts["next-stretch"] = () => view.focusMark("stretch", 1);
acts.measure = () => { view.toggleMeasure(); $("measure").setAttribute("aria-pressed", String(Boolean(view.measure))); };
acts["mark-window"] = () => {
  const kind = $("mark-kind").value;
  if (!view.measure) { acts.measure(); return; }
  const { start_s, end_s } = view.measure;
  view.toggleMeasure();
  $("measure").setAttribute("aria-pressed", "false");
  edit({ kind: "MarkSet", id: `${kind}@${start_s.toFixed(1)}`, mark: { kind, start_s: round(start_s), end_s: round(end_s) } });
};
acts["mark-injection"] = () => {
  const t = view.measure ? view.measure.start_s : (view.range[0] + view.range[1]) / 2;
  edit({ kind: "MarkSet", id: `injection@${t.toFixed(1)}`, mark: { kind: "injection", time_s: round(t) } });
};
acts.undo = () => change(`${api}/undo`, {});
acts.redo = () => change(`${api}/redo`, {});
acts.traces = () => view.plot.focus();
acts.indices = () => { $("indices").scrollIntoView({ block: "start" }); parts.querySelector("[data-working]")?.focus(); };
acts.sheet = () => { $("sheet-fold").open = true; $("sheet-open").focus(); $("sheet").scrollIntoView({ block: "start" }); };

// -- fields --------------------------------------------------------------------------------------

const valueOf = (input) => {
  const text = input.value.trim();
  if (text === "") return null;
  switch (input.dataset.type) {
    case "bool": return text === "true";
    case "number": { const v = Number(text.replace(",", ".")); return Number.isFinite(v) ? v : text; }
    case "list": return text.split(",").map((x) => x.trim()).filter(Boolean);
    default: return text;
  }
};

// A field of the sheet is one edit of its whole top-level value.
function topLevel(form, name) {
  const top = name.split(".")[0], inputs = [...form.querySelectorAll("[name]")].filter((i) => i.name.split(".")[0] === top);
  if (inputs.length === 1 && inputs[0].name === top) return [top, valueOf(inputs[0])];
  if (form.dataset.field) {
    const rows = [];
    for (const input of inputs) { const [, k, key] = input.name.split("."); const v = valueOf(input); rows[k] ??= {}; if (v !== null) rows[k][key] = v; }
    const kept = rows.filter((r) => Object.keys(r).length);
    return [top, kept.length ? kept : null];
  }
  const group = {};
  for (const input of inputs) { const v = valueOf(input); if (v !== null) group[input.name.split(".")[1]] = v; }
  return [top, Object.keys(group).length ? group : null];
}

parts.addEventListener("change", (e) => {
  const input = e.target, form = input.closest("form");
  if (input.id === "study-state") { send("PUT", `${api}/state`, { state: input.value, why: $("why").value }).then((row) => { if (row) $("state").textContent = input.selectedOptions[0].textContent; }); return; }
  if (!form || !input.name) return;
  if (form.id === "rules-form") {
    if (input.name === "rules") edit({ kind: "RulesSet", rules: input.value });
    else edit({ kind: "SettingsSet", name: input.name.split(".")[1], value: valueOf(input) });
    return;
  }
  const [field, value] = topLevel(form, input.name);
  edit({ kind: "SheetSet", field, value });
});
parts.addEventListener("submit", (e) => e.preventDefault());

// -- Working -------------------------------------------------------------------------------------

async function openWorking(key, show = true) {
  const reply = await fetch(`/studies/${study}/working/${key}?part=1`);
  if (!reply.ok) { say(document.body.dataset.ours); return; }
  working.innerHTML = await reply.text();
  working.dataset.key = key;
  for (const tr of parts.querySelectorAll(".indices tr[data-key]")) tr.classList.toggle("chosen", tr.dataset.key === key);
  view.highlight(JSON.parse(working.querySelector("#working-body").dataset.windows));
  if (show && !working.open) { working.show(); working.querySelector("[data-close]").focus({ preventScroll: true }); working.scrollTop = 0; }
}
function closeWorking() {
  const key = working.dataset.key;
  working.close();
  view.highlight([]);
  for (const tr of parts.querySelectorAll(".indices tr.chosen")) tr.classList.remove("chosen");
  $(`w-${key}`)?.focus({ preventScroll: true });
}
working.addEventListener("click", (e) => {
  if (e.target.closest("[data-close]")) { e.stopPropagation(); closeWorking(); }
  if (e.target.closest("[data-show-windows]")) { view.highlight(JSON.parse(working.querySelector("#working-body").dataset.windows), true); view.scrollIntoView({ block: "nearest" }); }
});
document.addEventListener("keydown", (e) => { if (e.key === "Escape" && working.open && !document.querySelector("dialog[open]:not(.working)")) closeWorking(); });

// -- clicks --------------------------------------------------------------------------------------

document.addEventListener("click", (e) => {
  const button = e.target.closest("button");
  if (!button) { const curve = e.target.closest(".curves g.curve"); if (curve) choose(curve.dataset.id); return; }
  if (button.dataset.injection) { leaveOrBring(button); return; }
  if (button.dataset.working) { openWorking(button.dataset.working); return; }
  if (button.dataset.look) { const t = Number(button.dataset.look); view.zoom(t - 6, t + 14); view.scrollIntoView({ block: "nearest" }); choose(button.closest(".injection")?.dataset.id); return; }
  if (button.dataset.zoom) { ({ in: () => view.scale(0.5), out: () => view.scale(2), whole: () => view.zoom(0, view.duration) })[button.dataset.zoom](); return; }
  if (button.dataset.act && acts[button.dataset.act] && !button.disabled) acts[button.dataset.act]();
});

// The Shelf: import by drag and drop, column mapping, choosing two to compare.

import { send, say } from "./page.js";

const drop = document.getElementById("drop"), note = document.getElementById("import-note"), bar = document.getElementById("progress");
const picker = document.getElementById("files"), limit = Number(drop.dataset.limit);

// fetch() tells nothing of an upload's progress; XMLHttpRequest does.
const post = (form, url) => new Promise((done) => {
  const call = new XMLHttpRequest();
  call.open("POST", url || "/api/v1/studies");
  call.setRequestHeader("x-arteriole", "1");
  call.responseType = "json";
  call.upload.onprogress = (e) => { bar.value = (100 * e.loaded) / e.total; if (e.loaded === e.total) { bar.removeAttribute("value"); note.textContent = drop.dataset.reading; } };
  call.onload = () => done({ status: call.status, answer: call.response || {} });
  call.onerror = () => done({ status: 0, answer: { error: document.body.dataset.ours } });
  call.send(form);
});

async function take(files, columnMap) {
  if (!files.length) return;
  const size = files.reduce((s, f) => s + f.size, 0);
  if (size > limit) { note.textContent = drop.dataset.tooLarge; return; }
  const form = new FormData();
  for (const file of files) form.append("files", file, file.name);
  if (columnMap) form.append("column_map", JSON.stringify(columnMap));
  bar.hidden = false; bar.value = 0;
  note.textContent = drop.dataset.sending;
  const { status, answer } = await post(form);
  bar.hidden = true;
  if (status === 201) { location.href = `/studies/${answer.id}`; return; }
  if (answer.preview && !columnMap) { note.textContent = ""; ask(files, answer); return; }
  note.textContent = answer.error || document.body.dataset.ours;
}

// Files with a header or a sheet among them are one recording. Others are studies of their own or,
// if so ticked, runs of one case.
async function takeAll(list) {
  const files = [...list];
  if (files.length < 2 || files.some((f) => /\.(hea|json|toml)$/i.test(f.name))) { await take(files); return; }
  const failed = [], together = document.getElementById("runs").checked;
  let first = "";
  for (const file of files.sort((a, b) => a.name.localeCompare(b.name))) {
    const form = new FormData();
    form.append("files", file, file.name);
    bar.hidden = false;
    const { status, answer } = await post(form, first && `/api/v1/studies/${first}/recordings`);
    if (status !== 201) failed.push(`${file.name}: ${answer.error || status}`);
    else if (together) first ||= answer.id;
  }
  bar.hidden = true;
  if (failed.length) note.textContent = failed.join(" · ");
  else location.href = first ? `/studies/${first}` : location.href;
}

function ask(files, answer) {
  const dialog = document.getElementById("map"), table = document.getElementById("map-preview");
  document.getElementById("map-why").textContent = answer.error;
  table.querySelectorAll("tr").forEach((r) => r.remove());
  answer.preview.forEach((row, k) => {
    const tr = table.insertRow();
    row.forEach((cell) => { const el = document.createElement(k ? "td" : "th"); if (!k) el.scope = "col"; el.textContent = cell; tr.append(el); });
  });
  for (const select of dialog.querySelectorAll("select")) {
    select.replaceChildren(new Option(select.dataset.none, ""));
    (answer.preview[0] || []).forEach((name) => select.append(new Option(name, name)));
  }
  const form = document.getElementById("map-form");
  form.onsubmit = () => {
    const chosen = Object.fromEntries([...new FormData(form)].filter(([, v]) => v));
    if (form.dataset.cancelled !== "1") take(files, chosen);
  };
  dialog.showModal();
}

drop.addEventListener("dragover", (e) => { e.preventDefault(); drop.classList.add("over"); });
drop.addEventListener("dragleave", () => drop.classList.remove("over"));
drop.addEventListener("drop", (e) => { e.preventDefault(); drop.classList.remove("over"); takeAll(e.dataTransfer.files); });
window.addEventListener("dragover", (e) => e.preventDefault());
window.addEventListener("drop", (e) => e.preventDefault());
picker.addEventListener("change", () => takeAll(picker.files));

const compare = document.getElementById("compare");
const chosen = () => [...document.querySelectorAll("[data-choose]:checked")].map((c) => c.dataset.choose);
document.addEventListener("change", (e) => { if (e.target.matches("[data-choose]")) compare.disabled = chosen().length !== 2; });
compare.addEventListener("click", () => { const [b, a] = chosen(); location.href = `/compare?a=${a}&b=${b}`; });

// States of long work, asked for while any is under way.
const stages = [...document.querySelectorAll("[data-stage]")];
async function look() {
  const { studies } = await (await fetch("/api/v1/studies" + location.search)).json();
  const busy = studies.filter((s) => s.stage === "measuring" || s.stage === "waiting");
  for (const el of stages) {
    const one = studies.find((s) => s.id === el.dataset.stage);
    el.replaceChildren();
    if (one?.stage === "measuring") { const p = document.createElement("progress"); p.setAttribute("aria-label", one.title); el.append(p); }
    if (one?.stage === "failed") { el.textContent = "!"; el.title = one.fault; }
  }
  if (busy.some((s) => s.stage === "measuring")) setTimeout(look, 1000);
}
if (stages.length) look().catch(() => say(document.body.dataset.ours));

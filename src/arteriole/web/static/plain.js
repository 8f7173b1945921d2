// Pages without traces: Ledger, Working, Comparison, waiting.

import { api, send, study, acts } from "./page.js";

const waiting = document.getElementById("waiting");
if (waiting) {
  const look = async () => {
    const row = await (await fetch(api)).json();
    if (row.stage === "ready" || row.stage === "failed") location.reload();
    else setTimeout(look, 400);
  };
  setTimeout(look, 250);
}

const change = async (url, body) => { if (await send("POST", url, body)) location.reload(); };
acts.undo = () => study && change(`${api}/undo`, {});
acts.redo = () => study && change(`${api}/redo`, {});
document.addEventListener("click", (e) => {
  const button = e.target.closest("[data-undo]");
  if (button) change(`${api}/edits`, { edit: { kind: "Undo", edit_id: button.dataset.undo } });
  if (e.target.closest("#working-body [data-close]")) location.href = `/studies/${study}`;
  if (e.target.closest("[data-show-windows]")) location.href = `/studies/${study}`;
});

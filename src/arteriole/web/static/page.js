// What every page does: talk to the server, theme, language, reader, dialogs, keyboard map.

export const study = document.body.dataset.study || "";
export const api = `/api/v1/studies/${study}`;
const toast = document.getElementById("toast");
let fading = 0;

export function say(text) {
  toast.textContent = text;
  clearTimeout(fading);
  fading = setTimeout(() => { toast.textContent = ""; }, 9000);
}

// Send a change; a refusal is shown in the server's own words and null comes back.
export async function send(method, url, body) {
  let reply;
  try {
    const form = body instanceof FormData;
    reply = await fetch(url, { method, body: form ? body : JSON.stringify(body ?? {}), headers: { "x-arteriole": "1", ...(form ? {} : { "content-type": "application/json" }) } });
  } catch { say(document.body.dataset.ours); return null; }
  const answer = await reply.json().catch(() => ({}));
  if (!reply.ok && !answer.preview) say(answer.error || document.body.dataset.ours);
  return reply.ok || answer.preview ? answer : null;
}

const keep = (name, value) => { document.cookie = `${name}=${value}; path=/; max-age=31536000; samesite=strict`; };

export const acts = {
  keys: () => document.getElementById("keymap").showModal(),
  shelf: () => { location.href = "/"; },
  bench: () => { if (study) location.href = `/studies/${study}`; },
  ledger: () => { if (study) location.href = `/studies/${study}/ledger`; },
  search: () => { const box = document.getElementById("search"); if (box) box.focus(); else location.href = "/"; },
  theme: () => {
    const root = document.documentElement, button = document.getElementById("theme");
    const dark = root.dataset.theme ? root.dataset.theme === "dark" : matchMedia("(prefers-color-scheme: dark)").matches;
    root.dataset.theme = dark ? "light" : "dark";
    button.textContent = dark ? button.dataset.dark : button.dataset.light;
    keep("theme", root.dataset.theme);
  },
};

if (!document.documentElement.dataset.theme && matchMedia("(prefers-color-scheme: dark)").matches) document.getElementById("theme").textContent = document.getElementById("theme").dataset.light;
document.getElementById("theme").addEventListener("click", acts.theme);
document.getElementById("keys-open").addEventListener("click", acts.keys);
document.getElementById("language").addEventListener("change", (e) => { keep("language", e.target.value); location.reload(); });
document.getElementById("reader").addEventListener("change", (e) => send("PUT", "/api/v1/reader", { name: e.target.value }));
document.addEventListener("click", (e) => { if (e.target.closest("[data-close]")) e.target.closest("dialog")?.close(); });

// What scrolls sideways can be reached by keys (and is named by its table's heading).
export function reach() {
  for (const el of document.querySelectorAll(".scroll")) {
    const over = el.scrollWidth > el.clientWidth;
    if (over) { el.tabIndex = 0; el.setAttribute("role", "group"); el.setAttribute("aria-label", el.closest("section, dialog")?.querySelector("h2, caption")?.textContent || document.title); }
    else { el.removeAttribute("tabindex"); el.removeAttribute("role"); el.removeAttribute("aria-label"); }
  }
}
reach();
addEventListener("resize", reach);

// One table, drawn by the server, says which key does what.
const single = document.getElementById("single-keys");
try { single.checked = localStorage.getItem("single-keys") !== "off"; } catch { /* private window */ }
single.addEventListener("change", () => { try { localStorage.setItem("single-keys", single.checked ? "on" : "off"); } catch { /* kept for this page only */ } });
const map = new Map([...document.querySelectorAll("#keymap [data-act]")].map((li) => [li.dataset.key, li.dataset.act]));
document.addEventListener("keydown", (e) => {
  const undo = (e.ctrlKey || e.metaKey) && e.key.toLowerCase() === "z";
  const typing = e.target.closest("input:not([type=checkbox]), textarea, select");
  if (undo && !typing) { e.preventDefault(); (e.shiftKey ? acts.redo : acts.undo)?.(); return; }
  if (e.ctrlKey || e.metaKey || e.altKey || typing || document.querySelector("dialog[open]:not(.working)")) return;
  if (!single.checked && e.key !== "?") return;
  const act = acts[map.get(e.key)];
  if (act) { e.preventDefault(); act(); }
});

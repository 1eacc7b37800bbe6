// Entries wait in this device until the server has them: kept before they are sent, each with a key of its own, so that
// none is lost when the page is closed and none counts twice when an answer did not come back.
import { changed, show, watchFingers } from "./content.js";

const PLACE = "entries that wait";
const AGAIN = 5000;
const SOON = 700;
let soon = 0;
let busy = false;
let asked = false;

function kept() {
  try { return JSON.parse(localStorage.getItem(PLACE)) || []; } catch { return []; }
}

function keep(entries) {
  localStorage.setItem(PLACE, JSON.stringify(entries));
  tell(entries);
}

function newKey() {
  // crypto.randomUUID is for pages with TLS alone
  return Array.from(crypto.getRandomValues(new Uint8Array(12)), (one) => one.toString(16).padStart(2, "0")).join("");
}

// The mark comes when an entry waits for longer than an answer takes, and moves nothing that is being tapped.
function tell(entries) {
  document.documentElement.dataset.waiting = entries.length;
  clearTimeout(soon);
  if (!entries.length) document.getElementById("waiting")?.remove();
  else soon = setTimeout(mark, SOON);
}

function mark() {
  const count = kept().length;
  let told = document.getElementById("waiting");
  if (!told) {
    told = document.createElement("div");
    told.id = "waiting";
    told.setAttribute("role", "status");
    told.append(document.createElement("p"));
    document.querySelector("main").after(told);
  }
  const text = count === 1 ? "1 entry waits in this device. It is sent as soon as the workshop can be reached."
    : `${count} entries wait in this device. They are sent as soon as the workshop can be reached.`;
  if (told.firstChild.textContent !== text) told.firstChild.textContent = text;
}

// Only what was changed goes along, so that two devices at one batch do not write over each other.
function body(form, button) {
  const data = new FormData(form, button && button.name ? button : undefined);
  const sent = new URLSearchParams();
  for (const [name, value] of data) {
    if (name === "token" || name === "key" || typeof value !== "string") continue;
    const plain = name.replace(/^(f|was)\./, "");
    const field = plain === name ? null : form.elements.namedItem(`f.${plain}`);
    if (form.dataset.auto !== undefined && field && !changed(field)) continue;
    sent.append(name, value);
  }
  sent.set("key", newKey());
  return sent.toString();
}

// What was sent is what the next change begins with, also while it waits.
function remember(form) {
  for (const one of form.elements) {
    if (!one.name.startsWith("f.")) continue;
    if (one.tagName === "SELECT") for (const choice of one.options) choice.defaultSelected = choice.selected;
    else one.defaultValue = one.value;
    const was = form.elements.namedItem(`was.${one.name.slice(2)}`);
    if (was) was.value = one.value;
  }
}

async function send() {
  if (busy || asked) return;
  busy = true;
  try {
    for (let entries = kept(); entries.length; entries = kept()) {
      const entry = entries[0];
      const token = document.querySelector('input[name="token"]')?.value || "";
      const answer = await fetch(entry.url, {
        method: "POST", body: entry.body, redirect: "follow", cache: "no-store",
        headers: { "Content-Type": "application/x-www-form-urlencoded", "X-Form-Token": token },
      });
      const html = await answer.text();
      if (answer.status === 401) { asked = true; show(html, location.href); return; }
      if (answer.status >= 500 && answer.status !== 507) return;
      keep(kept().filter((one) => one.id !== entry.id));
      if (!kept().length) show(html, answer.status >= 400 ? location.href : answer.url);
    }
  } catch {
    // no way to the workshop: the entry stays, and the mark says so
  } finally {
    busy = false;
    tell(kept());
  }
}

export function start() {
  watchFingers();
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.dataset.send === undefined || event.defaultPrevented) return;
    event.preventDefault();
    const entry = { id: newKey(), url: form.getAttribute("action"), body: body(form, event.submitter) };
    keep([...kept(), entry]);
    const count = form.dataset.count === undefined ? null : form.querySelector(".count");
    if (count) count.textContent = Number(count.textContent) + 1;
    if (form.dataset.auto !== undefined) remember(form);
    else for (const one of form.querySelectorAll("input[inputmode='numeric']")) one.value = one.defaultValue;
    send();
  });
  document.addEventListener("change", (event) => {
    const form = event.target.form;
    if (form && form.dataset.auto !== undefined && event.target.name.startsWith("f.")) form.requestSubmit();
  });
  addEventListener("online", send);
  setInterval(() => { if (kept().length) send(); }, AGAIN);
  addEventListener("popstate", () => location.reload());
  tell(kept());
  if (kept().length) send();
}

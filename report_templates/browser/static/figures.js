// Asks whether the figures changed, while somebody looks, and puts the new ones in place of the old.
const place = document.getElementById("figures");
const told = document.getElementById("changed");
const EVERY = 2000; // milliseconds

const texts = () => new Map([...place.querySelectorAll("[id^='f.']")].map((one) => [one.id, one.textContent]));

async function look() {
  if (document.hidden) return;
  const address = new URL(place.dataset.now, location.href);
  address.searchParams.set("seen", place.dataset.mark);
  const answer = await fetch(address, { redirect: "error" });
  if (answer.status !== 200) return;
  const before = texts();
  place.innerHTML = await answer.text();
  place.dataset.mark = answer.headers.get("X-Mark");
  let changed = 0;
  for (const [id, text] of texts()) {
    if (before.get(id) === text) continue;
    document.getElementById(id).classList.add("changed");
    changed += 1;
  }
  told.textContent = changed ? `${changed} figures changed; they are underlined twice.` : "";
}

setInterval(() => look().catch(() => {}), EVERY);

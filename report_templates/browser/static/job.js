// Asks how far a report is until it is made.
const place = document.getElementById("job");
const EVERY = 700; // milliseconds

async function look() {
  const answer = await fetch(place.dataset.now, { redirect: "error" });
  if (!answer.ok) return;
  const text = await answer.text();
  if (text !== place.dataset.shown) place.innerHTML = place.dataset.shown = text;
  if (answer.headers.get("X-Done") === "yes") clearInterval(asking);
}

const asking = setInterval(() => look().catch(() => {}), EVERY);

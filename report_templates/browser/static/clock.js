// The time that a device runs. Its start is a fact in the folder; the page only shows how long ago that was.
const EVERY = 15000;

function words(milliseconds) {
  const minutes = Math.max(0, Math.floor(milliseconds / 60000));
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

function show() {
  const told = document.querySelector("[data-now]");
  if (!told) return;
  if (told.since === undefined) told.since = Date.now();
  // The clock of this device may be wrong: the page says what time it was when it was made.
  const now = Date.parse(told.dataset.now) + Date.now() - told.since;
  for (const one of document.querySelectorAll("time[data-running]")) {
    const text = words(now - Date.parse(one.dateTime));
    if (one.textContent !== text) one.textContent = text;
  }
}

export function tick() {
  show();
  setInterval(show, EVERY);
  document.addEventListener("shown", show);
}

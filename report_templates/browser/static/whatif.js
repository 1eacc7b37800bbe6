// Shows what comes of what is typed, without a page in between; only the last answer counts.
const board = document.getElementById("board");
const outcome = document.getElementById("outcome");
const PAUSE = 250; // milliseconds after the last key
let waiting = 0;
let last = 0;

async function look() {
  const mine = (last += 1);
  const asked = new URLSearchParams(new FormData(board));
  const answer = await fetch(`${board.dataset.now}?${asked}`, { redirect: "error" });
  const text = await answer.text();
  if (mine !== last || !answer.ok) return;
  outcome.innerHTML = text;
  history.replaceState(null, "", `?${asked}`);
}

if (board) {
  board.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = setTimeout(() => look().catch(() => {}), PAUSE);
  });
}

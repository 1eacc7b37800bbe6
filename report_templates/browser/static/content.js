// The content of the page, renewed by an answer without leaving the page.
let pressed = false;
let held = null;

export function changed(field) {
  if (field.tagName !== "SELECT") return field.value !== field.defaultValue;
  return [...field.options].some((one) => one.selected !== one.defaultSelected);
}

// The answer takes the place of the content; what is being typed meanwhile stays, and so does the place of the cursor.
function put(html, url) {
  const made = new DOMParser().parseFromString(html, "text/html");
  const main = made.querySelector("main");
  if (!main) return;
  const typed = new Map();
  for (const one of document.querySelectorAll("main input[id], main select[id]")) {
    if (changed(one)) typed.set(one.id, one.value);
  }
  const open = [...document.querySelectorAll("main details[open] > summary")].map((one) => one.textContent);
  const focused = document.activeElement && document.activeElement.id;
  const before = new URL(location.href);
  document.querySelector("main").replaceWith(main);
  document.title = made.title;
  const places = made.querySelector("header");
  if (places) document.querySelector("header").replaceWith(places);
  const there = new URL(url, location.href);
  if (there.pathname + there.search !== before.pathname + before.search) {
    history.pushState({}, "", there);
    main.focus();
    scrollTo(0, 0);
  } else {
    for (const [id, value] of typed) {
      const field = document.getElementById(id);
      if (field && document.activeElement !== field) field.value = value;
    }
    for (const one of main.querySelectorAll("details > summary")) if (open.includes(one.textContent)) one.parentElement.open = true;
    if (focused && document.getElementById(focused)) document.getElementById(focused).focus({ preventScroll: true });
  }
  document.dispatchEvent(new Event("shown"));
}

// A tap begins and ends at one button: nothing is renewed under a finger.
export function show(html, url) {
  if (pressed) held = [html, url];
  else put(html, url);
}

export function watchFingers() {
  addEventListener("pointerdown", () => { pressed = true; }, true);
  for (const end of ["pointerup", "pointercancel"]) {
    addEventListener(end, () => setTimeout(() => {
      pressed = false;
      if (held) put(...held);
      held = null;
    }), true);
  }
}

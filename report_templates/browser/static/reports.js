// A report that is dropped on its field is taken as if it had been chosen.
const place = document.getElementById("drop");
const field = document.getElementById("report");

for (const name of ["dragover", "dragleave", "drop"]) {
  place.addEventListener(name, (event) => {
    event.preventDefault();
    place.classList.toggle("over", name === "dragover");
    if (name === "drop" && event.dataTransfer.files.length) {
      field.files = event.dataTransfer.files;
      place.requestSubmit();
    }
  });
}

// A place tapped on the map is chosen in the list, without leaving what is typed.
// Without this script the place is a link that opens the page with it chosen.

const form = document.querySelector("[data-foot-map]");
const list = form?.querySelector('select[name="place"]');
const places = [...document.querySelectorAll("[data-place]")];

if (list) {
  list.addEventListener("change", draw);
  for (const place of places) {
    place.addEventListener("click", (event) => {
      event.preventDefault();
      list.value = place.dataset.place;
      draw();
      list.focus();
      list.scrollIntoView({ block: "center" });
    });
  }
  draw();
  form.dataset.footMap = "ready";
}

function draw() {
  for (const place of places) {
    const field = place.querySelector(".map-field");
    field.classList.toggle("map-chosen", place.dataset.place === list.value);
  }
}

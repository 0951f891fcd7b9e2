// Ticks of mats: says how many and which are chosen, and shows only the numbers that hold a text.
function tell() {
  const chosen = [...document.querySelectorAll('input[name="mats"]:checked')].map((box) => box.value).sort();
  const said = `${chosen.length} mat${chosen.length === 1 ? "" : "s"} chosen`;
  document.querySelectorAll("[data-chosen-count]").forEach((line) => { line.textContent = said; });
  document.querySelectorAll("[data-chosen]").forEach((line) => {
    line.textContent = chosen.length ? `${chosen.length} chosen: ${chosen.join(", ")}` : "None chosen yet.";
  });
}

function show(text) {
  document.querySelectorAll('input[name="mats"]').forEach((box) => {
    box.parentElement.hidden = !box.value.toLowerCase().includes(text.toLowerCase());
  });
}

function begin() {
  document.querySelectorAll("[data-filter]").forEach((field) => { field.hidden = false; });
  tell();
}

document.addEventListener("change", (event) => { if (event.target.name === "mats") tell(); });
document.addEventListener("input", (event) => { if (event.target.id === "mat-filter") show(event.target.value.trim()); });
document.addEventListener("keydown", (event) => {
  if (event.target.id === "mat-filter" && event.key === "Enter") event.preventDefault();
});
document.addEventListener("htmx:afterSwap", begin);
begin();

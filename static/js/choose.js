// Says how many cables and mats are chosen, and names the act by it. The form works without.
const form = document.querySelector("[data-choose]");

function counted(number, word) {
  return `${number} ${word}${number === 1 ? "" : "s"}`;
}

function say() {
  const chosen = [...form.querySelectorAll("input[name=segments]:checked")];
  const mats = new Set(chosen.map((box) => box.dataset.mat)).size;
  form.querySelector("[data-chosen]").textContent = chosen.length
    ? `${counted(chosen.length, "cable")} in ${counted(mats, "mat")} chosen`
    : "Tick the cables to change.";
  form.querySelector("[data-raise]").textContent = chosen.length
    ? `Work order${mats === 1 ? "" : "s"} for ${counted(mats, "mat")}`
    : "Work orders for the chosen";
}

if (form) {
  form.addEventListener("change", say);
  say();
}

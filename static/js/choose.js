// Says how many cables and mats are chosen, names the act by it, and shows its bar once there is something to do.
// The form works without.
const form = document.querySelector("[data-choose]");
const bar = form?.querySelector(".action-bar");

function counted(number, word) {
  return `${number} ${word}${number === 1 ? "" : "s"}`;
}

function say() {
  const chosen = [...form.querySelectorAll("input[name=segments]:checked")];
  const mats = new Set(chosen.map((box) => box.dataset.mat)).size;
  if (!chosen.length) {
    bar.remove();
    return;
  }
  bar.querySelector("[data-chosen]").textContent = `${counted(chosen.length, "cable")} in ${counted(mats, "mat")} chosen`;
  bar.querySelector("[data-raise]").textContent = `Work order${mats === 1 ? "" : "s"} for ${counted(mats, "mat")}`;
  if (!bar.isConnected) {
    form.append(bar);
  }
}

if (form) {
  form.addEventListener("change", say);
  // also when the browser comes back to the page with its ticks restored
  addEventListener("pageshow", say);
}

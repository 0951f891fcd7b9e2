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

// ticking every position ticks each row; taking out one of them takes out the tick for all
function follow(box) {
  const every = form.elements.every_position;
  if (every && box === every) {
    for (const row of form.querySelectorAll("input[name=segments]")) {
      row.checked = every.checked || row.defaultChecked;
    }
  } else if (every && box.name === "segments" && !box.checked) {
    every.checked = false;
  }
}

if (form) {
  form.addEventListener("change", (event) => {
    follow(event.target);
    say();
  });
  // also when the browser comes back to the page with its ticks restored
  addEventListener("pageshow", say);
}

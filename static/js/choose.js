// Says how many cables and mats are chosen, on the page and aloud, names the act by it, and shows its bar once there is
// something to do. A line of the due list ticks all its cables, and arrows lead from line to line. Enter in a box never
// raises anything: it leads to the button that does. The form works without.
const form = document.querySelector("[data-choose]");
const bar = form?.querySelector(".action-bar");
const said = form?.querySelector("[data-said]");

function counted(number, word) {
  return `${number} ${word}${number === 1 ? "" : "s"}`;
}

function cablesOf(line) {
  return [...line.closest("tr").querySelectorAll("input[name=segments]")];
}

function showLines() {
  for (const line of form.querySelectorAll("[data-line]")) {
    const ticked = cablesOf(line).filter((box) => box.checked).length;
    line.checked = ticked > 0;
    line.indeterminate = ticked > 0 && ticked < cablesOf(line).length;
  }
}

function say() {
  showLines();
  const chosen = [...form.querySelectorAll("input[name=segments]:checked")];
  const mats = new Set(chosen.map((box) => box.dataset.mat)).size;
  const now = chosen.length ? `${counted(chosen.length, "cable")} in ${counted(mats, "mat")} chosen` : "";
  // what had been said is said again when nothing is left
  const aloud = now ? `${now}. Enter goes to the button.` : "Nothing chosen.";
  if (said && (now || said.textContent) && said.textContent !== aloud) {
    said.textContent = aloud;
  }
  if (!chosen.length) {
    bar.remove();
    return;
  }
  bar.querySelector("[data-chosen]").textContent = now;
  bar.querySelector("[data-raise]").textContent = `Work order${mats === 1 ? "" : "s"} for ${counted(mats, "mat")}`;
  if (!bar.isConnected) {
    form.append(bar);
  }
}

// ticking every position ticks each row, ticking a line its cables; taking out one of them takes out the tick for all
function follow(box) {
  const every = form.elements.every_position;
  if (box.matches("[data-line]")) {
    for (const cable of cablesOf(box)) {
      cable.checked = box.checked;
    }
  } else if (every && box === every) {
    for (const row of form.querySelectorAll("input[name=segments]")) {
      row.checked = every.checked || row.defaultChecked;
    }
  } else if (every && box.name === "segments" && !box.checked) {
    every.checked = false;
  }
}

// the boxes that arrows lead to: of each row the one in its first cell
function step(box, key) {
  const boxes = [...form.querySelectorAll(".pick input")];
  const to = { ArrowDown: boxes.indexOf(box) + 1, ArrowUp: boxes.indexOf(box) - 1, Home: 0, End: boxes.length - 1 }[key];
  if (to === undefined || !box.closest(".pick")) {
    return false;
  }
  boxes[to]?.focus();
  return true;
}

function pressed(event) {
  const box = event.target;
  if (box.type !== "checkbox" || event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) {
    return;
  }
  if (event.key === "Enter") {
    event.preventDefault();
    if (bar.isConnected) {
      bar.querySelector("[data-raise]").focus();
    }
  } else if (step(box, event.key)) {
    event.preventDefault();
  }
}

if (form) {
  form.addEventListener("change", (event) => {
    follow(event.target);
    say();
  });
  form.addEventListener("keydown", pressed);
  // the cables say it all; a line of which some are chosen would choose the others too
  form.addEventListener("formdata", (event) => event.formData.delete("lines"));
  // also when the browser comes back to the page with its ticks restored
  addEventListener("pageshow", say);
}

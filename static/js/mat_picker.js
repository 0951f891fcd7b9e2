// Mats that are ticked: numbers are read as they are typed, those that match are shown, and what is chosen is said in short.
// The boxes are never drawn anew. `picker:told` on the form says that a script ticked some; a hand makes a change as ever.
// The server reads the same text when the form is sent, and its word counts (mat_list.js reads as it does).
// Who fills the page later says so with `page:filled`.
const beginMatPicker = () => {
  const picker = document.querySelector("[data-picker]:not([data-begun])");
  if (!picker?.querySelector("[name=mats]")) return;
  picker.dataset.begun = "";
  const form = picker.closest("form");
  const field = picker.querySelector("[name=paste]");
  const said = picker.querySelector("[data-said]");
  const only = picker.querySelector("[data-only-chosen]");
  const tick = picker.querySelector("[data-tick]");
  const boxes = [...picker.querySelectorAll("[name=mats]")];
  const groups = [...picker.querySelectorAll(".tiles")];
  const bar = form.querySelector(".action-bar");
  const inTurn = new Intl.Collator("en", { numeric: true }).compare;
  const FEW = 6;

  const { ending, plain } = matList;
  const isGone = (box) => box.parentElement.dataset.gone !== undefined;
  const find = matList.finder(boxes, (box) => box.value);
  const read = (text) => matList.read(text, find, () => boxes.filter((box) => !isGone(box)));

  // saying

  const runs = (numbers) => numbers.reduce((all, number) => {
    const last = all.at(-1);
    const [before, now] = [last && ending(last.at(-1)), ending(number)];
    const follows = before && now && before[1] === now[1] && Number(now[2]) === Number(before[2]) + 1;
    if (follows) last.push(number);
    else all.push([number]);
    return all;
  }, []);
  const inRuns = (numbers, to, shown) => runs(numbers).flatMap((run) => (
    run.length > 2 ? [`${shown(run[0])}${to}${shown(run.at(-1))}`] : run.map(shown))).join(", ");
  const inWords = (numbers) => (numbers.length > FEW ? inRuns(numbers, " to ", (number) => number) : numbers.join(", "));

  const chosen = () => boxes.filter((box) => box.checked).map((box) => box.value).sort(inTurn);
  const whyNot = (box) => box.parentElement.querySelector("[data-why]").textContent;

  const tell = () => {
    const numbers = chosen();
    const prefixes = new Set(numbers.map((number) => ending(number)?.[1]));
    const shown = prefixes.size === 1 && !prefixes.has(undefined) ? (number) => ending(number)[2] : (number) => number;
    const count = `${numbers.length} mat${numbers.length === 1 ? "" : "s"} chosen`;
    form.querySelectorAll("[data-chosen-count]").forEach((line) => { line.textContent = count; });
    form.querySelectorAll("[data-chosen-short]").forEach((line) => { line.textContent = inRuns(numbers, "–", shown); });
    picker.querySelector("[data-chosen]").textContent = numbers.length
      ? `${numbers.length} chosen: ${inWords(numbers)}` : "None chosen yet.";
    groups.forEach((group) => {
      const ticked = group.querySelectorAll("input:checked").length;
      const line = group.parentElement.querySelector("summary [data-depot-chosen]");
      if (line) line.textContent = ticked ? `, ${ticked} chosen` : "";
    });
    only.disabled = !numbers.length && !kept;
  };

  // showing: those that the text names or that hold its last word; or only those that were chosen when that was asked

  let kept = null;
  // what is left in the field once it was said that no mat has it, here or by the server
  let notKnown = field.getAttribute("aria-invalid") === "true" ? field.value.trim() : "";

  const isWanted = () => {
    const text = field.value.trim();
    const { found, last } = read(text);
    const [named, begun] = [new Set(found), last && field.value.endsWith(last) ? plain(last) : ""];
    if (kept) return (box) => kept.has(box);
    if (!text || text === notKnown) return (box) => box.checked || !isGone(box);
    return (box) => !isGone(box) && (named.has(box) || (begun && plain(box.value).includes(begun)));
  };

  // a depot that is folded away opens while it holds what is looked for
  const unfold = (fold, holds) => {
    if (!fold) return;
    const looking = kept || (field.value.trim() && field.value.trim() !== notKnown);
    fold.hidden = !holds;
    if (looking && holds && !fold.open) fold.dataset.opened = "";
    if (looking && holds) fold.open = true;
    else if (!looking && fold.dataset.opened !== undefined) fold.open = false;
    if (!looking) delete fold.dataset.opened;
  };

  // the field stays where it is on the screen, and what it finds stands beside it
  const show = () => {
    const [before, wanted] = [field.getBoundingClientRect().top, isWanted()];
    const height = Math.min(picker.offsetHeight, innerHeight - bar.offsetHeight);
    const some = boxes.filter((box) => !wanted(box)).length > 0;
    boxes.forEach((box) => { box.parentElement.hidden = !wanted(box); });
    groups.forEach((group) => {
      group.hidden = !group.querySelector("label:not([hidden])");
      unfold(group.closest("details"), !group.hidden);
    });
    picker.style.minHeight = some ? `${height}px` : "";
    if (document.activeElement === field || kept) scrollBy(0, field.getBoundingClientRect().top - before);
  };

  const showOnly = (wanted) => {
    kept = wanted ? new Set(boxes.filter((box) => box.checked)) : null;
    only.setAttribute("aria-pressed", String(wanted));
    show();
    tell();
  };

  const say = (sentences) => { said.textContent = sentences.filter(Boolean).join(" "); };

  // a hand ticked these, by their numbers
  const take = () => {
    if (!field.value.trim()) return;
    const { found, unknown, leftOut, excepting } = read(field.value);
    const [gone, ticked] = [found.filter(isGone), found.filter((box) => !isGone(box))];
    const names = (some) => inWords(some.map((box) => box.value));
    ticked.filter((box) => !box.checked).forEach((box) => {
      box.checked = true;
      box.dispatchEvent(new Event("change", { bubbles: true }));
    });
    const unfit = ticked.filter(whyNot).map((box) => `${box.value} (${whyNot(box)})`);
    if (!excepting.length) field.value = [...unknown, ...gone.map((box) => box.value)].join(", ");
    notKnown = field.value.trim();
    showOnly(false);
    field.select();
    say([
      ticked.length && `Ticked: ${names(ticked)}.`,
      unfit.length && `Should not go: ${unfit.join(", ")}.`,
      gone.length && `Withdrawn by then: ${names(gone)}.`,
      leftOut.length && `Left out, as a note: ${leftOut.join(", ")}.`,
      excepting.length && `None is ticked for “${excepting.join("”, “")}”. Write only the numbers that went.`,
      !excepting.length && unknown.length && `No mat has this number: ${unknown.join(", ")}. Correct it.`,
    ]);
  };

  // a tap answers the word that narrowed the tiles: left in the field, the pool would read it as a mat
  const answered = () => {
    if (!field.value.trim() || field.value.trim() === notKnown) return;
    field.value = field.value.replace(/[^\s,;]+[\s,;]*$/, "");
    show();
  };

  form.addEventListener("change", (event) => {
    if (event.target.name !== "mats") return;
    tell();
    if (!event.isTrusted) return;
    answered();
    const why = event.target.checked && whyNot(event.target);
    say([why && `${event.target.value} should not go: ${why}.`]);
  });
  // what still stands in the field is ticked first, for all to see, and sent with the next press
  form.addEventListener("submit", (event) => {
    const text = field.value.trim();
    if (!text || text === notKnown || (event.submitter?.name === "act" && event.submitter.value !== "log")) return;
    event.preventDefault();
    event.stopPropagation();
    take();
    said.append(" Nothing is sent yet.");
    said.scrollIntoView({ block: "nearest" });
  }, true);
  form.addEventListener("picker:told", () => {
    tell();
    show();
  });
  field.addEventListener("input", () => {
    say([]);
    if (kept) showOnly(false);
    show();
  });
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    event.preventDefault();
    take();
  });
  tick.addEventListener("click", (event) => {
    event.preventDefault();
    take();
    field.focus();
  });
  only.addEventListener("click", () => showOnly(!kept));
  [tick, only].forEach((button) => { button.hidden = false; });
  picker.querySelectorAll("label[hidden]").forEach((label) => { label.dataset.gone = ""; });
  tell();
  show();
};

document.addEventListener("page:filled", beginMatPicker);
beginMatPicker();

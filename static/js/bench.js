// At the bench Enter goes on to the next field, and from the last one to the button that saves.
// Without this script Enter sends the form, and everything is kept all the same.
(() => {
  const form = document.querySelector("form[data-bench]");
  if (!form) return;

  const fields = () => [...form.querySelectorAll("input.figure-field")].filter((field) => field.offsetParent);
  const save = form.querySelector(".action-bar button");

  const goOnFrom = (field) => {
    const all = fields();
    (all[all.indexOf(field) + 1] || save).focus();
  };

  // What is typed into a field replaces what stood there, also in the one that has the focus when the page opens:
  // unless somebody typed into that before this script came. The browser itself may give it the focus much later, and
  // would then have what was typed meanwhile replaced.
  const select = (field) => field.matches("input.figure-field") && field.select();
  form.addEventListener("focusin", (event) => select(event.target));
  const first = form.querySelector("[autofocus]");
  if (first && document.activeElement === document.body) first.focus();
  else if (document.activeElement.value === document.activeElement.defaultValue) select(document.activeElement);

  form.addEventListener("keydown", (event) => {
    const plain = !event.isComposing && !event.ctrlKey && !event.metaKey && !event.altKey && !event.shiftKey;
    if (event.key !== "Enter" || !plain || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    goOnFrom(event.target);
    if (event.target.name.startsWith("found-")) left = { row: event.target.closest("tr"), to: document.activeElement, value: document.activeElement.value };
  });

  // The answer to a reading that was left may be that it lies far from what was expected: then Enter leads to the fields
  // in which it is connected anew, unless something was typed at the next position by then.
  let left = null;
  form.addEventListener("htmx:afterRequest", () => {
    if (!left?.row.querySelector("[data-asks]")) return;
    const again = [...left.row.querySelectorAll(".again input")].find((field) => field.offsetParent && !field.value);
    if (again && document.activeElement === left.to && left.to.value === left.value) again.focus();
    left = null;
  });

  const enter = (field, word) => {
    field.value = word;
    field.dispatchEvent(new Event("change", { bubbles: true }));
    goOnFrom(field);
  };

  form.querySelectorAll("button[data-word]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => enter(document.getElementById(button.dataset.field), button.dataset.word));
  });

  // With a go/no-go tester the first key says all.
  const WORDS = { w: "within", o: "over" };
  form.addEventListener("input", (event) => {
    const tester = form.querySelector("[data-kind='go/no-go']");
    const word = WORDS[event.target.value?.toLowerCase()];
    if (tester && word && event.target.matches("input.figure-field")) enter(event.target, word);
  });
})();

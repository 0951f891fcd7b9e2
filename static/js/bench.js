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
  });

  form.querySelectorAll("[data-no-signal]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => {
      const field = document.getElementById(button.dataset.noThrough);
      field.value = "no signal";
      field.dispatchEvent(new Event("change", { bubbles: true }));
      goOnFrom(field);
    });
  });
})();

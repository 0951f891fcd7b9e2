// Enter goes on to the same field of the next position that is changed, and from the last one to the button that saves.
// Without this script Enter sends the form, and everything is kept all the same.
(() => {
  const form = document.querySelector("form[data-change]");
  if (!form) return;

  const kindOf = (field) => field.name.split("-")[0];
  const shown = () => [...form.querySelectorAll("input, select")].filter((field) => field.offsetParent);
  const next = (field) => {
    const alike = shown().filter((each) => kindOf(each) === kindOf(field) && each.type !== "checkbox");
    const after = alike[alike.indexOf(field) + 1];
    if (after) return after;
    if (kindOf(field) === "all") return shown().find((each) => kindOf(each) === "loss");
    return null;
  };

  form.addEventListener("keydown", (event) => {
    const plain = !event.isComposing && !event.ctrlKey && !event.metaKey && !event.altKey && !event.shiftKey;
    if (event.key !== "Enter" || !plain || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    (next(event.target) || form.querySelector(".action-bar button")).focus();
  });
})();

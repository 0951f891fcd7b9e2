// Enter goes on to the same field of the next position that is changed, and from the last one to the button that saves.
// Without this script Enter sends the form, and everything is kept all the same.
(() => {
  const form = document.querySelector("form[data-change]");
  if (!form) return;

  const kindOf = (field) => field.name.split("-")[0];
  const shown = () => [...form.querySelectorAll("input, select")].filter((field) => field.offsetParent);
  const named = (name) => shown().find((field) => field.name === name);
  const firstOf = (kind) => shown().find((field) => kindOf(field) === kind);
  const after = (field, fields) => fields[fields.indexOf(field) + 1];

  const next = (field) => {
    if (field.name === "all-new") return named("all-loss");
    if (field.name === "all-loss") return field.value.trim() ? null : firstOf("loss");
    if (!/-\d+$/.test(field.name) || field.type === "checkbox") return after(field, shown());
    return after(field, shown().filter((each) => kindOf(each) === kindOf(field)));
  };

  form.addEventListener("keydown", (event) => {
    const plain = !event.isComposing && !event.ctrlKey && !event.metaKey && !event.altKey && !event.shiftKey;
    if (event.key !== "Enter" || !plain || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    (next(event.target) || form.querySelector(".action-bar button")).focus();
  });
})();

// The fields of a form that somebody may type into, under names by which another showing of the page knows them again.
const typedFields = (() => {
  const LEFT_OUT = ["password", "file", "submit", "button", "fieldset", "output"];

  const fieldsOf = (form) => [...form.elements].filter(
    (field) => field.name && field.name !== "csrfmiddlewaretoken" && !LEFT_OUT.includes(field.type));
  const isTick = (field) => ["checkbox", "radio"].includes(field.type);
  const isTyped = (field) => {
    if (field.type === "hidden") return false;
    if (isTick(field)) return field.checked !== field.defaultChecked;
    if (field.tagName !== "SELECT") return field.value !== field.defaultValue;
    const first = [...field.options].findIndex((option) => option.defaultSelected);
    return field.selectedIndex !== Math.max(first, 0);
  };
  // ticks of one name differ by their value, other fields by their turn
  const named = (fields) => fields.map((field, turn) => {
    const before = fields.slice(0, turn).filter((other) => other.name === field.name).length;
    return [`${field.name} ${isTick(field) ? field.value : before}`, field];
  });

  const isBegun = (form) => fieldsOf(form).some(isTyped);
  const valuesOf = (form) => named(fieldsOf(form)).map(([name, field]) => [name, isTick(field) ? field.checked : field.value]);

  // Gives back the text fields that changed: what they mean is said again beside them.
  const putBack = (form, values, withHidden = false) => {
    const fields = new Map(named(fieldsOf(form)));
    const changed = [];
    for (const [name, value] of values) {
      const field = fields.get(name);
      if (!field || (field.type === "hidden" && !withHidden)) continue;
      const before = field.value;
      if (isTick(field)) field.checked = value;
      else field.value = value;
      if (field.type === "text" && field.value !== before) changed.push(field);
    }
    return changed;
  };

  return { isBegun, valuesOf, putBack };
})();

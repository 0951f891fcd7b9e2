// No browser keeps our pages, and a field without suggestions comes back empty. So what somebody typed is laid aside in
// this tab when they leave a page, and put back when they come Back to it, or have it shown anew.
// What the form saw of the pool comes back with it, so that a stale form is refused as one, and one that was sent
// already acts no second time. Passwords and files are not laid aside, and nobody gets what another person typed.
// Nor is what the queue of this phone keeps (`data-entry`): put back, it would be sent a second time.
(() => {
  const mine = `typed ${document.body.dataset.person} `;
  const here = mine + location.pathname + location.search;
  const how = performance.getEntriesByType("navigation")[0];
  const LEFT_OUT = ["password", "file", "submit", "button", "fieldset", "output"];

  const forms = () => [...document.querySelectorAll("main form[method=post]")];
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

  const layAside = () => {
    const typed = forms().map((form) => {
      const fields = fieldsOf(form);
      const kept = !form.dataset.entry && fields.some(isTyped) ? named(fields) : [];
      return kept.map(([name, field]) => [name, isTick(field) ? field.checked : field.value]);
    });
    try {
      if (typed.some((fields) => fields.length)) sessionStorage.setItem(here, JSON.stringify(typed));
      else if (how?.responseStatus < 400 || forms().some((form) => form.dataset.entry)) sessionStorage.removeItem(here); // a refusal shows what was sent as its own
    } catch { /* no room, or not allowed */ }
  };

  const putBack = (form, kept, withHidden) => {
    const fields = new Map(named(fieldsOf(form)));
    for (const [name, value] of kept) {
      const field = fields.get(name);
      if (!field || (field.type === "hidden" && !withHidden)) continue;
      const before = field.value;
      if (isTick(field)) field.checked = value;
      else field.value = value;
      // what it means is said again beside it
      if (field.type === "text" && field.value !== before) changed.push(field);
    }
  };

  const changed = [];
  for (const key of Object.keys(sessionStorage)) {
    if (key.startsWith("typed ") && !key.startsWith(mine)) sessionStorage.removeItem(key);
  }
  if (["back_forward", "reload"].includes(how?.type)) {
    const kept = JSON.parse(sessionStorage.getItem(here) || "[]");
    forms().forEach((form, turn) => putBack(form, kept[turn] || [], how.type === "back_forward"));
  }
  addEventListener("load", () => changed.forEach((field) => field.dispatchEvent(new Event("change", { bubbles: true }))));
  addEventListener("pagehide", layAside);
})();

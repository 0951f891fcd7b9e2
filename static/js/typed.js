// No browser keeps our pages, and a field without suggestions comes back empty. So what somebody typed is laid aside in
// this tab when they leave a page, and put back when they come Back to it, or have it shown anew.
// What the form saw of the pool comes back with it, so that a stale form is refused as one, and one that was sent
// already acts no second time. Passwords and files are not laid aside, and nobody gets what another person typed.
// Nor is what the queue of this phone keeps (`data-entry`): put back, it would be sent a second time.
(() => {
  const mine = `typed ${document.body.dataset.person} `;
  const here = mine + location.pathname + location.search;
  const how = performance.getEntriesByType("navigation")[0];

  const forms = () => [...document.querySelectorAll("main form[method=post]")];

  const layAside = () => {
    const typed = forms().map((form) => (!form.dataset.entry && typedFields.isBegun(form) ? typedFields.valuesOf(form) : []));
    try {
      if (typed.some((fields) => fields.length)) sessionStorage.setItem(here, JSON.stringify(typed));
      else if (how?.responseStatus < 400 || forms().some((form) => form.dataset.entry)) sessionStorage.removeItem(here); // a refusal shows what was sent as its own
    } catch { /* no room, or not allowed */ }
  };

  const changed = [];
  for (const key of Object.keys(sessionStorage)) {
    if (key.startsWith("typed ") && !key.startsWith(mine)) sessionStorage.removeItem(key);
  }
  if (["back_forward", "reload"].includes(how?.type)) {
    const kept = JSON.parse(sessionStorage.getItem(here) || "[]");
    forms().forEach((form, turn) => changed.push(...typedFields.putBack(form, kept[turn] || [], how.type === "back_forward")));
  }
  addEventListener("load", () => changed.forEach((field) => field.dispatchEvent(new Event("change", { bubbles: true }))));
  addEventListener("pagehide", layAside);
})();

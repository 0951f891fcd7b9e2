// Forms with `data-queue` are kept on this phone first and then sent, whatever the line does meanwhile. Without this
// script, or where a browser keeps nothing, they are sent as any form is.
const queueForms = (() => {
  const store = queueStore;
  const QUICK_MS = 20_000, SHOWN_AFTER_MS = 400;
  // what is sent more than once from one page, in words of its button
  const ANOTHER = { log: "Log another event", fault: "Report another" };
  const busy = new WeakSet();

  // the other buttons of a page give it back with more filled in
  const stores = (button) => button?.name !== "act" || button.value === "log";

  const text = (element) => {
    const copy = element.cloneNode(true);
    copy.querySelectorAll(".optional, .unseen, input, br").forEach((part) => part.replaceWith(" "));
    return copy.textContent.replace(/\s+/g, " ").trim();
  };
  const labelOf = (field) => (field.labels?.[0] ? text(field.labels[0]) : field.name);
  const groupOf = (field) => {
    const legend = field.closest("fieldset")?.querySelector("legend");
    return field.name === "mats" ? "Mats" : legend ? text(legend) : labelOf(field);
  };
  const valueOf = (field) => {
    if (field.type === "file") return queueFiles.namesIn(field);
    if (field.tagName === "SELECT") return field.value && field.selectedOptions[0].text;
    if (field.name === "mats") return field.value;
    return ["checkbox", "radio"].includes(field.type) ? labelOf(field) : field.value.trim();
  };

  // [words, value] of what a person would know again
  const typedIn = (form) => {
    const typed = new Map();
    for (const field of form.elements) {
      if (!field.name || ["hidden", "submit", "button", "fieldset"].includes(field.type)) continue;
      if (["checkbox", "radio"].includes(field.type) && !field.checked) continue;
      const words = ["checkbox", "radio"].includes(field.type) ? groupOf(field) : labelOf(field);
      if (valueOf(field)) typed.set(words, [...(typed.get(words) || []), valueOf(field)]);
    }
    return [...typed].map(([words, values]) => [words, values.join(", ")]);
  };

  const eventOf = (form) => {
    const chosen = form.querySelector("[name=event]:checked");
    const isNew = !chosen || chosen.value === "new";
    const name = isNew ? form.elements.name?.value.trim() : chosen.closest("label")?.querySelector("span")?.firstChild.textContent;
    return name?.trim() || "An event without a name";
  };
  const matsOf = (form) => {
    const ticked = form.querySelectorAll("[name=mats]:checked").length;
    if (!ticked && form.elements.paste?.value.trim()) return "mats as listed";
    return `${ticked} mat${ticked === 1 ? "" : "s"}`;
  };
  const whatOf = (form, button) => {
    if (form.dataset.queue === "log") return `${eventOf(form)}, ${matsOf(form)}`;
    const what = form.dataset.what || document.querySelector("h1")?.textContent.trim() || "A form";
    return button?.name === "place" ? `${what}: ${text(button)}` : what;
  };

  const fieldsOf = (form, button, before) => {
    const fields = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
    if (button?.name) fields.push([button.name, button.value]);
    return fields.filter(([, value]) => typeof value === "string").concat(queueFiles.chosenIn(form, before));
  };

  // `before`: the entry to which this form is the answer
  const entryOf = (form, button, before) => {
    const address = new URL(button?.getAttribute("formaction") || form.getAttribute("action") || "", location.href);
    return {
      id: form.elements.token?.value || form.dataset.entry || store.newToken(),
      kind: form.dataset.queue, action: address.pathname + address.search, fields: fieldsOf(form, button, before),
      what: whatOf(form, button), typed: typedIn(form), keptAtMs: Date.now(), state: store.KEPT,
      ...queueSend.here(),
    };
  };

  const keep = async (form, button) => {
    busy.add(form);
    try {
      const before = form.dataset.entry && (await store.all()).find(({ id }) => id === form.dataset.entry);
      const entry = entryOf(form, button, before);
      await store.keep(entry, form.dataset.entry);
      form.dataset.entry = entry.id;
      await queueDraft.drop(form);
      watch(form, entry, shrink(entry));
    } catch {
      // nothing can be kept here: it is sent as any form is
      form.removeAttribute("data-queue");
      form.requestSubmit(button);
    }
  };

  // kept as it was chosen first: whoever leaves the page meanwhile loses nothing
  const shrink = async (entry) => {
    if (queuePhotos.among(entry.fields)) await store.change(entry.id, { fields: await queuePhotos.smaller(entry.fields) }, store.KEPT);
  };

  // From now on what is said of the entry stands in place of its form, which is empty again for the next.
  const watch = (form, entry, isReady) => {
    const since = performance.now();
    const panel = queueView.panel(entry, ANOTHER[form.dataset.queue], () => again(form, panel));
    const show = () => {
      if (panel.isConnected || panel.dataset.left) return;
      form.after(panel);
      if (form.contains(document.activeElement)) panel.focus();
      form.hidden = true;
      queueView.show();
    };
    const timer = setTimeout(show, SHOWN_AFTER_MS);
    const follow = async () => {
      if (panel.dataset.left) return;
      const stands = (await store.all()).find((other) => other.id === entry.id);
      if (!stands || panel.dataset.left) return;
      if (stands.state === store.SENT && performance.now() - since < QUICK_MS) {
        clearTimeout(timer);
        panel.dataset.left = "yes";
        await store.remove(entry.id);
        location.assign(stands.address);
      } else if (stands.state === store.ASKS && stands.page) {
        clearTimeout(timer);
        panel.dataset.left = "yes";
        open(stands);
      } else {
        queueView.say(panel, stands);
        if (stands.state !== store.KEPT) show();
      }
    };
    store.onChange(follow);
    queueSend.onChange(follow);
    isReady.catch(() => {}).then(queueSend.now).then(show);
  };

  const again = (form, panel) => {
    panel.dataset.left = "yes";
    panel.remove();
    form.reset();
    queueFiles.forget(form);
    for (const name of ["seen", "offered"]) if (form.elements[name]) form.elements[name].value = "";
    for (const box of form.querySelectorAll("[name=mats]:checked, [name=event]:checked")) box.checked = false;
    if (form.elements.token) form.elements.token.value = store.newToken();
    delete form.dataset.entry;
    form.hidden = false;
    queueView.show();
    busy.delete(form);
    // the picker counts again
    form.dispatchEvent(new Event("picker:told"));
    form.querySelector("input:not([type=hidden])")?.focus();
  };

  // The page with which the pool answered, in place of this one: with what was typed, and what it asks.
  const open = (entry) => {
    const main = document.querySelector("main");
    main.innerHTML = entry.page;
    const form = main.querySelector("form[data-queue]") || main.querySelector("form[method=post]");
    if (form) {
      form.dataset.queue ||= entry.kind;
      form.dataset.what ||= entry.what;
      form.dataset.entry = entry.id;
      if (!form.hasAttribute("action")) form.setAttribute("action", entry.action);
      queueFiles.offer(form, entry);
    }
    window.htmx?.process(main);
    queueView.show();
    document.dispatchEvent(new Event("page:filled"));
    main.focus();
    scrollTo(0, 0);
  };

  document.addEventListener("submit", (event) => {
    const form = event.target;
    // a browser that does not say which button it was sends the form itself
    if (!form.matches("form[data-queue]") || event.defaultPrevented || !("submitter" in event)) return;
    if (!stores(event.submitter)) return;
    event.preventDefault();
    if (!busy.has(form)) keep(form, event.submitter);
  });

  return { open };
})();

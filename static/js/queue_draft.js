// What is typed on the log page and not sent yet is laid aside on this phone, which may end a page in its pocket at any
// moment. It is put back on the page that opens without signal, goes along from there to the live page, and comes back there
// after a reload. Nobody gets what another account typed, or for another pool; who signs in again finds it.
const queueDraft = (() => {
  const store = queueStore;
  const box = document.querySelector("[data-queue-box]");
  const form = document.querySelector("main form[data-queue=log]");
  const withoutSignal = "shell" in box.dataset;
  const WAIT_MS = 200;
  let timer = 0, elsewhere = [];

  const layAside = async () => {
    clearTimeout(timer);
    timer = 0;
    if (form.dataset.entry) return;
    const values = new Map([...elsewhere, ...typedFields.valuesOf(form)]);
    const draft = { ...queueSend.here(), values: [...values], withoutSignal };
    await store.setBeside("draft", typedFields.isBegun(form) ? draft : undefined);
  };
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(layAside, WAIT_MS);
  };
  const leave = () => { if (timer) layAside(); };

  // the live page of this tab may have laid the same aside (typed.js)
  const forgetInTab = () => {
    const mine = `typed ${queueSend.here().account} ${location.pathname}`;
    for (const key of Object.keys(sessionStorage)) if (key.startsWith(mine)) sessionStorage.removeItem(key);
  };
  const drop = async (sent) => {
    if (sent !== form) return;
    clearTimeout(timer);
    timer = 0;
    elsewhere = [];
    document.querySelector("[data-draft]")?.remove();
    forgetInTab();
    await store.setBeside("draft", undefined);
  };

  // Left on purpose, a live page comes back empty as any page does. What the tab itself puts back (typed.js) is as it was.
  const isWanted = (draft) => {
    const [how] = performance.getEntriesByType("navigation");
    if (how?.responseStatus >= 400) return false;
    return withoutSignal || draft.withoutSignal || ["reload", "back_forward"].includes(how?.type);
  };
  const isThere = (draft) => !draft.withoutSignal && typedFields.isBegun(form);

  const beginEmpty = async () => {
    await drop(form);
    form.reset();
    location.assign(location.pathname);
  };
  const say = () => {
    const note = Object.assign(document.createElement("div"), { className: "note" });
    const button = Object.assign(document.createElement("button"), { type: "button", className: "button quiet", onclick: beginEmpty });
    button.textContent = "Begin with an empty form";
    note.dataset.draft = "";
    note.append("What you typed here and did not send is back. ", button);
    form.before(note);
  };

  const putBack = ({ values }) => {
    elsewhere = values;
    const changed = typedFields.putBack(form, values);
    // what the page knows of its event, it asks anew
    form.elements.seen.value = "";
    for (const field of new Set([...changed, form.elements.name])) field.dispatchEvent(new Event("change", { bubbles: true }));
    form.dispatchEvent(new Event("picker:told"));
    say();
  };

  const start = async () => {
    if (!form) return;
    const draft = await store.beside("draft");
    const { pool, account } = queueSend.here();
    if (draft && draft.pool === pool && draft.account === account) {
      if (isWanted(draft) && !isThere(draft)) putBack(draft);
      else if (!isThere(draft)) await store.setBeside("draft", undefined);
    }
    form.addEventListener("input", soon);
    form.addEventListener("change", soon);
    document.addEventListener("visibilitychange", leave);
    addEventListener("pagehide", leave);
  };

  return { start, layAside, drop };
})();

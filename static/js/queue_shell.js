// Fills the log page that opens without signal with what this phone keeps: its mats, and the events around today.
const queueShell = (() => {
  const box = document.querySelector("[data-queue-box]");
  const form = document.querySelector("form[data-queue]");
  const events = form.querySelector("[data-events]");
  const missing = form.querySelector("[data-missing]");
  // the pool may come back without a word from the line
  const LOOK_EVERY_MS = 30_000;
  let known;

  const pad = (number) => String(number).padStart(2, "0");
  // today as the pool has it, whatever the clock of this phone says; written as its date fields want it
  const today = () => {
    const now = new Date(Date.now() + known.aheadMs);
    return `${now.getFullYear()}-${pad(now.getMonth() + 1)}-${pad(now.getDate())}`;
  };
  const day = (iso) => new Date(`${iso}T12:00`).toLocaleDateString("en-GB", { day: "numeric", month: "short", year: "numeric" });

  const tick = (type, name, value, ...words) => {
    const label = document.createElement("label");
    label.append(Object.assign(document.createElement("input"), { type, name, value }), " ", ...words);
    return label;
  };
  const quiet = (words) => Object.assign(document.createElement("span"), { className: "quiet", textContent: words });

  const eventWords = (event) => {
    const words = document.createElement("span");
    const days = event.ends_on === event.starts_on ? day(event.starts_on) : `${day(event.starts_on)} to ${day(event.ends_on)}`;
    const counts = ["planned", "went"].filter((state) => event[state].length).map((state) => `${event[state].length} ${state}`);
    words.append(event.name, document.createElement("br"), quiet([days, event.code, ...counts].join(" · ")));
    return words;
  };
  // who does not plan logs what is over
  const offered = () => known.events.filter((event) => known.plans || event.ends_on <= today());

  const showEvents = () => {
    for (const event of offered()) events.lastElementChild.before(tick("radio", "event", event.code, eventWords(event)));
    const asked = new URLSearchParams(location.search).get("event");
    const radio = [...events.querySelectorAll("input")].find((each) => each.value === asked);
    if (radio) choose(radio);
    else if (!offered().length) Object.assign(events.lastElementChild.querySelector("input"), { checked: true, defaultChecked: true });
  };
  const tile = (prefix, [number, short, unfit, doubt]) => {
    const label = form.querySelector("[data-tile]").content.firstElementChild.cloneNode(true);
    const shown = label.querySelector(".tile-number");
    label.classList.toggle("unfit", Boolean(unfit));
    label.querySelector("input").value = number;
    label.querySelector("[data-why]").textContent = unfit;
    // what was kept by an earlier version has no doubt
    if (doubt) {
      const line = Object.assign(document.createElement("span"), { className: "tile-doubt", textContent: doubt });
      label.append(" ", line);
    }
    shown.firstElementChild.textContent = prefix;
    shown.append(short);
    return label;
  };
  const tiles = ({ depot, prefix, width, mats }) => {
    const group = Object.assign(document.createElement("fieldset"), { className: `tiles ${width}` });
    const head = [prefix, `${mats.length} mat${mats.length === 1 ? "" : "s"}`].filter(Boolean).join(" · ");
    const legend = Object.assign(document.createElement("legend"), { textContent: `${depot || "Mats"} ` });
    legend.append(quiet(head));
    group.append(legend, ...mats.map((mat) => tile(prefix, mat)));
    return group;
  };
  const showMats = () => {
    form.querySelector("[data-mats]").replaceChildren(...known.depots.map(tiles));
    const at = new Date(known.now_ms).toLocaleString("en-GB", { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });
    form.querySelector("[data-kept]").textContent = `Mats and events as they were on ${at}.`;
  };

  // the mats planned for the event are ticked; those of another event that was chosen before are not
  let ticked = [];
  const boxOf = (number) => [...form.querySelectorAll("[name=mats]")].find((each) => each.value === number);
  const choose = (radio) => {
    radio.checked = true;
    const event = known.events.find((each) => each.code === radio.value);
    for (const number of ticked) if (boxOf(number)) boxOf(number).checked = false;
    ticked = (event?.planned || []).filter((number) => boxOf(number) && !boxOf(number).checked);
    for (const number of ticked) boxOf(number).checked = true;
    form.elements.seen.value = event?.seen || "";
    form.dispatchEvent(new Event("picker:told"));
  };
  // what a hand ticked stays, and goes by what this phone knows of the event now
  const lookAgain = () => {
    const code = form.querySelector("[name=event]:checked")?.value;
    form.elements.seen.value = known.events.find((event) => event.code === code)?.seen || "";
  };

  const lacks = () => {
    const chosen = form.querySelector("[name=event]:checked")?.value;
    return [
      !chosen && "Choose the event, or add another one.",
      chosen === "new" && !form.elements.name.value.trim() && "Name the event.",
      chosen === "new" && !form.elements.starts_on.value && "Say on which day it began.",
      !form.querySelector("[name=mats]:checked") && !form.elements.paste.value.trim() && "Tick the mats.",
    ].filter(Boolean);
  };
  const check = (event) => {
    const sentences = lacks();
    missing.hidden = !sentences.length;
    missing.replaceChildren(...sentences.map((each) => Object.assign(document.createElement("p"), { textContent: each })));
    if (!sentences.length) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    missing.scrollIntoView();
  };

  // back on the line with nothing begun: the live page is the better one
  const goLive = async () => {
    const begun = document.hidden || form.hidden || typedFields.isBegun(form);
    if (begun || (await queueStore.all()).some((entry) => entry.state === queueStore.KEPT)) return;
    try {
      if ((await queueSend.ready()).token) location.reload();
    } catch { /* not yet */ }
  };

  const start = async () => {
    known = await queueStore.beside("known");
    document.querySelector("[data-nothing]").hidden = Boolean(known?.depots);
    if (!known?.depots) return;
    Object.assign(box.dataset, { pool: known.pool, account: known.account });
    form.elements.token.value = queueStore.newToken();
    form.elements.starts_on.value = form.elements.starts_on.defaultValue = today();
    showMats();
    showEvents();
    form.hidden = false;
    document.dispatchEvent(new Event("page:filled"));
    await queueDraft.start();
    lookAgain();
    form.addEventListener("submit", check);
    // Enter in a field never logs half a form
    form.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && event.target.tagName === "INPUT") event.preventDefault();
    });
    events.addEventListener("change", (event) => choose(event.target));
    document.querySelector("[data-live]").addEventListener("click", async (event) => {
      event.preventDefault();
      await queueDraft.layAside();
      location.assign(event.target.href);
    });
    addEventListener("online", goLive);
    document.addEventListener("visibilitychange", goLive);
    setInterval(goLive, LOOK_EVERY_MS);
  };

  return { start };
})();
